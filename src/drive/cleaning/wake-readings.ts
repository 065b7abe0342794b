import type { TimelineEvent } from '../../../shared/drive.ts'
import { samplePeriod } from '../../samples/on-one-clock.ts'
import type { Cleaned } from './clean-channel.ts'

/** What no cell and no mass of metal does between two scans. Common practice, no source. */
const JUMP = { cell_voltage: 0.8, module_temperature: 12, coolant_in: 20, coolant_out: 20 } as const
type Family = keyof typeof JUMP
/** A first reading has none before it that it belongs to: 0.0 °C on a cold day is 12 K off, and no metal does 3 K a scan. */
const WAKING_JUMP: Readonly<Record<Family, number>> = {
  ...JUMP,
  module_temperature: 3,
  coolant_in: 8,
  coolant_out: 8,
}
/** First readings stand no longer than this after a first message or a silence, s (contract). */
const WAKE_S = 2
/** So many channels of one sender, and this share of them, must be contradicted at once. Common practice, no source. */
const LEAST = 4
const SHARE = 0.3
/** A silence: no reading for so long, s, and for so many periods. */
const SILENCE_S = 5
const SILENCE_PERIODS = 10

/** Readings of one channel from `from` to `to` (exclusive) that the next reading contradicts. */
interface Odd {
  readonly channel: Cleaned
  readonly from: number
  readonly to: number
  readonly atS: number
  readonly endS: number
  /** Right after the channel's first reading or a silence. */
  readonly waking: boolean
}

/** Prefix of the event that says a unit reset while the log ran. */
export const UNIT_RESET = 'a unit started again'

/**
 * First readings of a box that wakes: 0.0 °C, 156 °C, 0 V in one scan, contradicted by the next on many channels at once.
 * In the first 2 s after a first reading or a silence they are no readings: NaN, in place, and counted as skipped.
 * Elsewhere the same pattern is a unit that reset: dropped as well, and told as an event.
 *
 * Blind: a box whose first readings stand longer than 2 s; logs of fewer than four cells and temperatures.
 */
export function dropWakeReadings(all: readonly Cleaned[]): { cleaned: Cleaned[]; events: TimelineEvent[] } {
  const judged = all.filter((each) => familyOf(each) !== null && each.series.labels === null)
  const odd = judged.flatMap((each) => oddReadings(each, familyOf(each)!))
  odd.sort((a, b) => a.atS - b.atS)
  const events: TimelineEvent[] = []
  const dropped = new Map<Cleaned, { count: number; firstS: number }>()
  for (let i = 0; i < odd.length; ) {
    let to = i
    while (to < odd.length && odd[to]!.atS - odd[i]!.atS < WAKE_S) to++
    const together = odd.slice(i, to)
    const channels = new Set(together.map((each) => each.channel))
    if (channels.size >= LEAST && channels.size >= SHARE * judged.length) {
      for (const { channel, from, to: end, atS } of together) {
        channel.series.values.fill(Number.NaN, from, end)
        const seen = dropped.get(channel)
        dropped.set(channel, { count: (seen?.count ?? 0) + end - from, firstS: seen?.firstS ?? atS })
      }
      if (!together.some((each) => each.waking))
        events.push({
          at_s: together[0]!.atS,
          what: `${UNIT_RESET}: ${channels.size} readings of one scan are contradicted by the next`,
          channel: together[0]!.channel.id,
        })
      i = to
    } else i++
  }
  if (dropped.size === 0) return { cleaned: [...all], events }
  return {
    cleaned: all.map((each) => {
      const lost = dropped.get(each)
      if (!lost) return each
      return {
        ...each,
        skipped: [
          ...each.skipped,
          {
            what: `${each.id}: first readings of a box that woke, contradicted by the next scan`,
            count: lost.count,
            first: `at ${lost.firstS.toFixed(3)} s`,
          },
        ],
      }
    }),
    events,
  }
}

function familyOf({ id }: Cleaned): Family | null {
  const family = id.replace(/\.\d+$/, '')
  return family in JUMP ? (family as Family) : null
}

/** Runs of one reading, at most 2 s long, that the next reading contradicts (and the one before, where there is one). */
function oddReadings(channel: Cleaned, family: Family): Odd[] {
  const { timeS, values } = channel.series
  const period = samplePeriod(timeS)
  const silence = Math.max(SILENCE_S, SILENCE_PERIODS * (Number.isFinite(period) ? period : 0))
  const found: Odd[] = []
  const n = values.length
  for (let from = 0; from < n; ) {
    let to = from + 1
    while (to < n && same(values[to]!, values[from]!) && timeS[to]! - timeS[to - 1]! < silence) to++
    const waking = from === 0 || timeS[from]! - timeS[from - 1]! >= silence
    const before = waking ? Number.NaN : values[from - 1]!
    const after = to < n ? values[to]! : Number.NaN
    const jump = (waking ? WAKING_JUMP : JUMP)[family]
    // nearly every reading ends here
    if (contradicts(values[from]!, after, jump)) {
      const length = timeS[to]! - timeS[from]!
      if (length <= WAKE_S + 1e-6 && (waking || contradicts(values[from]!, before, jump)))
        found.push({ channel, from, to, atS: timeS[from]!, endS: timeS[to]!, waking })
    }
    from = to
  }
  return found
}

const contradicts = (reading: number, other: number, jump: number): boolean =>
  Number.isFinite(other) && (Number.isNaN(reading) || Math.abs(reading - other) > jump)

const same = (a: number, b: number): boolean => a === b || (Number.isNaN(a) && Number.isNaN(b))
