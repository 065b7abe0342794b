import type { ChannelEntry } from '../../../shared/channels.ts'
import type { Skipped } from '../../../shared/drive.ts'

/** More different values at the edge than placeholders ever have. */
const MOST_COUNTED = 64
/** A channel with fewer other values may be a state; no source. */
const FEWEST_OTHERS = 4

/** Readings that boxes send when they have no value: all ones of a width, nines; in any decimal scale. */
const PLACEHOLDERS = [
  255, 254, 32767, -32768, 65535, 65534, 2147483647, -2147483648, 4294967295, 999, 9999, 99999, -999, -9999,
]
const SCALES = [1, 10, 100, 1000]

/**
 * Turns readings that cannot be true into NaN, in place, and counts them by value.
 *
 * Outside the catalogue's range: always. Inside it: a placeholder value (65535 and the like, in any decimal scale),
 * where it stands clear of all other readings by more than their whole spread.
 *
 * @param values in the program's unit, one channel
 * @param factor of the unit conversion already done, to find placeholders in the box's own numbers
 */
export function dropUnbelievable(
  entry: ChannelEntry,
  id: string,
  timeS: ArrayLike<number>,
  values: Float64Array,
  factor: number,
): Skipped[] {
  const [lowest, highest] = entry.range
  const counts = new Map<number, { count: number; at: number }>()
  const drop = (i: number): void => {
    const value = values[i]!
    const seen = counts.get(value)
    if (seen) seen.count++
    else if (counts.size < MOST_COUNTED) counts.set(value, { count: 1, at: timeS[i]! })
    else {
      const rest = counts.get(Number.NaN)
      if (rest) rest.count++
      else counts.set(Number.NaN, { count: 1, at: timeS[i]! })
    }
    values[i] = Number.NaN
  }
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!
    if (value < lowest || value > highest) drop(i)
    else if (value < low) low = value
    if (value > high && value <= highest) high = value
  }
  if (low < high)
    for (const placeholder of PLACEHOLDERS)
      for (const scale of SCALES) {
        const value = (placeholder * factor) / scale
        if (Math.abs(value - low) > 1e-9 * Math.abs(value) && Math.abs(value - high) > 1e-9 * Math.abs(value))
          continue
        if (clearOfOthers(values, value)) {
          for (let i = 0; i < values.length; i++)
            if (Math.abs(values[i]! - value) <= 1e-9 * Math.abs(value)) drop(i)
        }
      }
  if (counts.size === 0) return []
  const all = [...counts.entries()].sort((a, b) => b[1].count - a[1].count)
  const total = all.reduce((sum, [, { count }]) => sum + count, 0)
  const first = Math.min(...all.map(([, { at }]) => at))
  const shown = all.slice(0, 3).map(([value]) => inWords(value, entry.unit))
  return [
    {
      what: `${id}: unbelievable readings (${shown.join(', ')}${all.length > 3 ? ', …' : ''})`,
      count: total,
      first: `at ${first.toFixed(3)} s`,
    },
  ]
}

function inWords(value: number, unit: string): string {
  if (Number.isNaN(value)) return 'others'
  return Number.isFinite(value) ? `${Number(value.toPrecision(6))} ${unit}`.trim() : 'endless'
}

/**
 * Does `value` stand further from every other reading than those spread among themselves? Fewer than four others are a
 * quantity in steps (a limit of 0 or 255 A), where nothing tells.
 */
function clearOfOthers(values: Float64Array, value: number): boolean {
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  const near = 1e-9 * Math.abs(value)
  const others = new Set<number>()
  for (let i = 0; i < values.length; i++) {
    const other = values[i]!
    if (Math.abs(other - value) <= near) continue
    if (others.size < FEWEST_OTHERS && !Number.isNaN(other)) others.add(other)
    if (other < low) low = other
    if (other > high) high = other
  }
  if (others.size < FEWEST_OTHERS) return false
  const away = value > high ? value - high : low - value
  return away > Math.max(high - low, 0.2 * Math.abs(value))
}
