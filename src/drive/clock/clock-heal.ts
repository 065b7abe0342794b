import type { ClockStep } from '../../importers/time/clock-jumps.ts'
import { silences } from '../../math/silences.ts'
import { samplePeriod } from '../../samples/on-one-clock.ts'
import type { Cleaned } from '../cleaning/clean-channel.ts'
import type { ClockFit } from './clock-fit.ts'

/** A stretch too short to compare clocks over, s. */
const LEAST_PART_S = 60
/** A step smaller than this, or than a few rows, is not told from the fits' own errors, s. */
const LEAST_STEP_S = 0.3
const MOST_SPLITS = 6

/**
 * Steps of a log's clock that only another log shows.
 *
 *     this log      …  41.8  41.9 | 178.9 179.0 …     a pause of 137 s, or the clock set forward by 137 s?
 *     other log     …  41.8  41.9 |  42.0  42.1 …     the same presses follow at once: the clock was set
 *
 * The log is split where a step could hide: at its pauses, and where its clock was already seen to step (how long the
 * box was off then is not in its own time). Each part is put on the other log's clock by itself; where two
 * neighbours disagree, the later part's times are moved. **Changes the series' time arrays in place.**
 *
 * @param known steps already taken out of the log, in its own time
 * @param compare part of this log, and the lag it has if the clock did not step → how it lies to the other log, or null
 */
export function healClock(
  named: readonly Cleaned[],
  known: readonly ClockStep[],
  compare: (part: readonly Cleaned[], expectS: number | null) => ClockFit | null,
): ClockStep[] {
  const times = [...new Set(named.map((each) => each.series.timeS))].filter((timeS) => timeS.length > 1)
  const cuts = splits(times, known)
  if (cuts.length === 0) return []
  const found: ClockStep[] = []
  const rowS = Math.min(...times.map(samplePeriod).filter((period) => period > 0))
  const edges = [Number.NEGATIVE_INFINITY, ...cuts, Number.POSITIVE_INFINITY]
  let before: ClockFit | null = null
  for (let k = 0; k + 1 < edges.length; k++) {
    // where the part would lie without a step: it takes clear evidence to move it from there
    const expectS = before && before.lagS + before.rate * edges[k]!
    const fit = compare(partOf(named, edges[k]!, edges[k + 1]!), expectS)
    if (fit && before) {
      const at = edges[k]!
      const step: number = before.lagS + before.rate * at - (fit.lagS + fit.rate * at)
      if (Math.abs(step) > Math.max(LEAST_STEP_S, 5 * rowS, fit.plusMinusS, before.plusMinusS)) {
        for (const timeS of times) move(timeS, at, -step)
        for (let later = k; later < edges.length; later++) if (edges[later]! > at) edges[later]! -= step
        found.push({
          at_s: at - step,
          step_s: step,
          why: 'another log of the drive shows that the clock stepped here',
        })
        before = { ...fit, lagS: fit.lagS + step * (1 + fit.rate) }
        continue
      }
    }
    if (fit) before = fit
  }
  return found
}

/** Moments in which a step could hide, with enough log on both sides; the longest pauses first kept. */
function splits(times: readonly Float64Array[], known: readonly ClockStep[]): number[] {
  if (times.length === 0) return []
  const from = Math.min(...times.map((timeS) => timeS[0]!))
  const to = Math.max(...times.map((timeS) => timeS[timeS.length - 1]!))
  const periods = times.map(samplePeriod).filter((period) => period > 0)
  if (periods.length === 0) return []
  const pauses = silences(times, Math.max(1, 20 * Math.min(...periods)), from, to)
    .sort((a, b) => b[1] - b[0] - (a[1] - a[0]))
    .slice(0, MOST_SPLITS)
  const all = [
    ...pauses.map(([, end]) => end - 1e-9),
    ...known.slice(0, MOST_SPLITS).map((step) => step.at_s - 1e-9),
  ]
  const kept: number[] = []
  for (const cut of all.sort((a, b) => a - b))
    if (cut - (kept[kept.length - 1] ?? from) > LEAST_PART_S && to - cut > LEAST_PART_S) kept.push(cut)
  return kept
}

function partOf(named: readonly Cleaned[], from: number, to: number): Cleaned[] {
  return named.map((each) => {
    const { timeS, values } = each.series
    let start = 0
    while (start < timeS.length && timeS[start]! < from) start++
    let end = start
    while (end < timeS.length && timeS[end]! < to) end++
    return {
      ...each,
      series: { ...each.series, timeS: timeS.subarray(start, end), values: values.subarray(start, end) },
    }
  })
}

/** Adds to every stamp after a moment; never lets time fall. */
function move(timeS: Float64Array, after: number, byS: number): void {
  let last = Number.NEGATIVE_INFINITY
  for (let i = 0; i < timeS.length; i++) {
    if (timeS[i]! > after) timeS[i] = Math.max(last, timeS[i]! + byS)
    last = timeS[i]!
  }
}
