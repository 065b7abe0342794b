import type { Skipped } from '../../../shared/drive.ts'

/** No module, plate or coolant moves this far between two samples that are closer than `JUMP_S`. Common practice, no source. */
const JUMP_C = 40
const JUMP_S = 5
/** What a broken or shorted sensor reads stays within this; heat goes on moving, K. */
const FLAT_C = 2

/**
 * Turns into NaN, in place, what a temperature sensor reads after a jump that no mass of metal can make, until it
 * jumps back: an open or shorted sensor lies at the end of its range, flat. A reading that goes on moving after the jump
 * is kept: it might be heat.
 */
export function dropThermalJumps(id: string, timeS: ArrayLike<number>, values: Float64Array): Skipped[] {
  let last = Number.NaN
  let lastS = Number.NaN
  let count = 0
  let first = ''
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!
    if (Number.isNaN(value)) continue
    const jumped = Math.abs(value - last) > JUMP_C && timeS[i]! - lastS < JUMP_S
    const to = jumped ? endOfFlat(values, i, last) : null
    if (to === null) {
      last = value
      lastS = timeS[i]!
      continue
    }
    if (count === 0) first = `at ${timeS[i]!.toFixed(3)} s, ${value} °C after ${last} °C`
    for (let k = i; k < to; k++) {
      if (Number.isNaN(values[k]!)) continue
      values[k] = Number.NaN
      count++
    }
    // What comes next is measured against the last believed reading, however long ago that was.
    lastS = timeS[Math.min(to, values.length) - 1]!
    i = to - 1
  }
  return count === 0 ? [] : [{ what: `${id}: readings after a jump that no temperature makes`, count, first }]
}

/** Where the flat stretch that begins at `from` ends (exclusive): the log's end or a way back; null where it moves on. */
function endOfFlat(values: Float64Array, from: number, before: number): number | null {
  const level = values[from]!
  for (let i = from + 1; i < values.length; i++) {
    const value = values[i]!
    if (Number.isNaN(value) || Math.abs(value - level) <= FLAT_C) continue
    return Math.abs(value - before) < JUMP_C / 2 ? i : null
  }
  return values.length
}
