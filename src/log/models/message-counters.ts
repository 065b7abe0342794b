import { catalogueEntry } from '../../../shared/channels.ts'
import type { Facts } from '../../facts/facts.ts'
import { freshSamples } from '../../samples/fresh-samples.ts'

/** A signal that counts its message's frames, and where it did not go up by one. */
export interface MessageCounter {
  readonly name: string
  readonly file: string
  readonly frames: number
  /** Frames that it counts and the log does not hold; and frames that came with the count before. */
  readonly skipped: number
  readonly repeated: number
  readonly firstAtS: number | null
}

const FEWEST_FRAMES = 50
/** So many steps must be by one before it is a counter; it must wrap so often; no source. */
const COUNTS_SHARE = 0.8
const LEAST_WRAPS = 3
const LOWEST_TOP = 3
/** A counter of one frame in hours counts something else. */
const HIGHEST_TOP = 65_535

/** Counters among the signals of frame logs that are no channel of ours. */
export function messageCounters(facts: Facts): readonly MessageCounter[] {
  const files = new Set(facts.drive.buses.map(({ file }) => file))
  return [...facts.drive.channels.values()].flatMap((each): MessageCounter[] => {
    if (catalogueEntry(each.id) || each.labels || !files.has(each.file)) return []
    const { timeS, values } = freshSamples(each)
    const n = values.length
    if (n < FEWEST_FRAMES) return []
    let top = 0
    for (const value of values) {
      if (!Number.isInteger(value) || value < 0) return []
      top = Math.max(top, value)
    }
    if (top < LOWEST_TOP || top > HIGHEST_TOP) return []
    let byOne = 0
    let wraps = 0
    let skipped = 0
    let repeated = 0
    let first: number | null = null
    for (let i = 1; i < n; i++) {
      const step = (values[i]! - values[i - 1]! + top + 1) % (top + 1)
      if (values[i]! < values[i - 1]!) wraps++
      if (step === 1) byOne++
      else if (step === 0) repeated++
      else skipped += step - 1
      if (step !== 1) first ??= timeS[i]!
    }
    if (byOne < COUNTS_SHARE * (n - 1) || wraps < LEAST_WRAPS) return []
    return [{ name: each.id, file: each.file, frames: n, skipped, repeated, firstAtS: first }]
  })
}
