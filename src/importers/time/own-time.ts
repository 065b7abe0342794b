import type { Skipped } from '../../../shared/drive.ts'
import { samplePeriod } from '../../samples/on-one-clock.ts'
import { backwardJump, type ClockStep, forwardJump, HOUR_S } from './clock-jumps.ts'
import { type RepeatedRows, repeatedFrom, type SameRow } from './repeated-rows.ts'

/** A log's rows put in one rising order of time. */
export interface OwnTime {
  /** Seconds, never falling; NaN where the row is to be left out. */
  readonly timeS: Float64Array
  /** Some rows are NaN. */
  readonly dropped: boolean
  readonly skipped: readonly Skipped[]
  /** Steps of the log's clock that were taken out. */
  readonly steps: readonly ClockStep[]
  /** Blocks of rows that stood twice; the second copy is left out. */
  readonly repeats: readonly RepeatedRows[]
  readonly notes: readonly string[]
}

export interface TimeHabits {
  /** Several rows may share a stamp (a row a sample). */
  readonly sharedStamps: boolean
  /** Where a written time starts anew: 86400 for clock times, 3600 for times without hours; 0: a counter. */
  readonly modulusS: number
  /** Seconds per count of a number as written: a counter wraps at a power of two or ten of it. */
  readonly countS: number
  /** Wall clock: daylight saving and late setting can step it. */
  readonly wall: boolean
  /** Seconds since 1970 of stamp 0, for wall clocks counted from their first stamp. */
  readonly baseS: number
  /** Do two rows hold the same values? Absent where rows cannot be compared. */
  readonly sameRow?: SameRow
}

/**
 * Stamps → time that never falls.
 *
 *     stamps   65.52 65.53 0.00 0.01     a 16-bit counter of ms wraps: 65.536 is added
 *     stamps   5.0 5.1 4.2 4.3 5.2       rows 3 and 4 came late: left out, counted
 *     stamps   812.3 812.4 0.0 0.1       the box started again: time goes on by one period, the step is told
 *     stamps   12 12 12 13 13 13         stamps coarser than rows: spread evenly
 *
 * How long a box was off while it started again cannot be told from its own clock.
 * @param stamps seconds as written; NaN where the row's time cannot be read. Changed in place.
 * @param lineOf line of a row, for the counts
 */
export function ownTime(stamps: Float64Array, habits: TimeHabits, lineOf: (row: number) => number): OwnTime {
  const n = stamps.length
  const period = samplePeriod(stamps) || 0.1
  if (risesEvenly(stamps, period))
    return { timeS: stamps, dropped: false, skipped: [], steps: [], repeats: [], notes: [] }
  const steps: ClockStep[] = []
  const repeats: RepeatedRows[] = []
  const unread = counter('rows whose time cannot be read')
  const late = counter('rows whose time goes back')
  const again = counter('rows that stand twice')
  const ahead = counter('rows whose time jumps ahead alone')
  const twice = counter('rows whose time is the row before')
  const beside = (stampS: number) => ({
    spacingS: period,
    local: habits.wall,
    dateS: habits.wall ? stampS + habits.baseS : Number.NaN,
  })
  let highest = Number.NEGATIVE_INFINITY
  for (let i = 0; i < n; i++) if (stamps[i]! > highest) highest = stamps[i]!
  let shift = 0
  let last = Number.NaN
  let lastStamp = Number.NaN
  let equals = 0
  for (let i = 0; i < n; i++) {
    const stamp = stamps[i]!
    if (!Number.isFinite(stamp)) {
      unread.count(lineOf(i))
      stamps[i] = Number.NaN
      continue
    }
    if (Number.isNaN(last)) {
      last = stamp
      lastStamp = stamp
      continue
    }
    let time = stamp + shift
    const delta = stamp - lastStamp
    if (delta > 50 * period && aheadAlone(stamps, i, lastStamp, delta)) {
      ahead.count(lineOf(i))
      stamps[i] = Number.NaN
      continue
    }
    if (time < last - 1e-9) {
      const wrap = wrapOf(lastStamp, stamp, habits, period, highest)
      const repeat = wrap > 0 ? null : repeatedFrom(stamps, i, shift, period, habits.sameRow)
      if (repeat) {
        for (let k = i; k < i + repeat.rows; k++) {
          again.count(lineOf(k))
          stamps[k] = Number.NaN
        }
        repeats.push({ at_s: last, ...repeat })
        i += repeat.rows - 1
        continue
      }
      const rest = wrap > 0 ? 0 : lateRows(stamps, i, lastStamp, period)
      if (wrap > 0) shift += wrap
      else if (rest > 0) {
        for (let k = i; k < i + rest; k++) {
          late.count(lineOf(k))
          stamps[k] = Number.NaN
        }
        i += rest - 1
        continue
      } else {
        const { stepS, why } = backwardJump(delta, stamp, beside(lastStamp))
        shift -= stepS
        steps.push({ at_s: last, step_s: stepS, why })
      }
      time = stamp + shift
      if (time < last) time = last
    } else {
      const jump = delta > HOUR_S / 2 ? forwardJump(delta, beside(lastStamp)) : null
      if (jump) {
        steps.push({ at_s: last, step_s: jump.stepS, why: jump.why })
        shift -= jump.stepS
        time = stamp + shift
      }
    }
    if (time === last) equals++
    stamps[i] = time
    last = time
    lastStamp = stamp
  }
  const notes: string[] = []
  if (equals > 0 && !habits.sharedStamps) {
    if (equals > 0.3 * n) {
      spreadEvenly(stamps)
      notes.push(
        `Stamps are coarser than rows (${Number((1 + equals / Math.max(1, n - equals)).toFixed(1))} rows share one): rows were spread evenly between them.`,
      )
    } else {
      let before = Number.NaN
      for (let i = 0; i < n; i++) {
        if (Number.isNaN(stamps[i])) continue
        if (stamps[i] === before) {
          twice.count(lineOf(i))
          stamps[i] = Number.NaN
        } else before = stamps[i]!
      }
    }
  }
  const skipped = [unread, late, again, ahead, twice].flatMap((each) => each.told())
  return {
    timeS: stamps,
    dropped: skipped.length > 0,
    skipped,
    steps,
    repeats,
    notes,
  }
}

/** Nearly every log: each stamp is read, later than the one before and not far from it. */
function risesEvenly(stamps: Float64Array, period: number): boolean {
  const most = Math.min(50 * period, HOUR_S / 2)
  for (let i = 1; i < stamps.length; i++) {
    const spacing = stamps[i]! - stamps[i - 1]!
    if (!(spacing > 0 && spacing <= most)) return false
  }
  return stamps.length > 1 && Number.isFinite(stamps[0]! + stamps[stamps.length - 1]!)
}

function counter(what: string): { count(line: number): void; told(): Skipped[] } {
  let count = 0
  let first = 0
  return {
    count(line) {
      if (count++ === 0) first = line
    },
    told: () => (count === 0 ? [] : [{ what, count, first: `line ${first}` }]),
  }
}

/** Counts at which counters start anew: whole bytes, decimal displays, the minute, hour and day of s and ms. */
const WRAPS = [
  ...[8, 15, 16, 24, 31, 32].map((bits) => 2 ** bits),
  ...[2, 3, 4, 5, 6, 7, 8, 9].map((digits) => 10 ** digits),
  ...[60, 3600, 86400, 60e3, 3600e3, 86400e3],
  2 ** 32 / 1000,
]

/**
 * What a wrapping clock lost between two stamps; 0 where it did not wrap.
 * @param highest stamp of the log: a counter never passes the count at which it starts anew
 */
function wrapOf(before: number, after: number, habits: TimeHabits, period: number, highest: number): number {
  if (habits.modulusS > 0) return before - after > habits.modulusS / 2 ? habits.modulusS : 0
  for (const counts of WRAPS) {
    const wrap = counts * habits.countS
    const near = Math.min(Math.max(20 * period, 1e-6), 0.1 * wrap)
    if (highest < wrap && before > wrap - near && after < near) return wrap
  }
  return 0
}

/**
 * Rows that came late stand before a jump that makes up for them; after a clock set back there is none.
 * @returns how many rows from `i` are late; 0 where the clock was set back
 */
function lateRows(stamps: Float64Array, i: number, before: number, period: number): number {
  const back = before - stamps[i]!
  for (let k = i + 1; k < Math.min(stamps.length, i + 500); k++) {
    const forward = stamps[k]! - stamps[k - 1]!
    if (stamps[k]! >= before - 1e-9 && forward > 0.5 * back && forward > 1.5 * Math.min(period, back))
      return k - i
    if (stamps[k]! > before + 3 * period) return 0
  }
  return stamps.length - i < 3 && back < 100 * period ? stamps.length - i : 0
}

/** Is the stamp far ahead of both its neighbours, which go on as if it were not there? */
function aheadAlone(stamps: Float64Array, i: number, before: number, jump: number): boolean {
  const next = stamps[i + 1]
  return next !== undefined && next >= before && next - before < 0.1 * jump
}

/** Rows of one coarse stamp get even places up to the next stamp. */
function spreadEvenly(times: Float64Array): void {
  const starts: number[] = []
  for (let i = 0; i < times.length; i++) if (i === 0 || times[i] !== times[i - 1]) starts.push(i)
  const runs = starts.map((start, at) => (starts[at + 1] ?? times.length) - start)
  const typicalRun = runs.slice(1, -1).sort((a, b) => a - b)[(runs.length - 2) >> 1] ?? Math.max(...runs)
  const stepOf = (at: number): number => {
    const next = starts[at + 1]
    return next === undefined ? Number.NaN : times[next]! - times[starts[at]!]!
  }
  const deltas = starts
    .map((_, at) => stepOf(at))
    .filter((each) => each > 0)
    .sort((a, b) => a - b)
  const typicalDelta = deltas[deltas.length >> 1] ?? 1
  const stamps = starts.map((start) => times[start]!)
  starts.forEach((start, at) => {
    const run = runs[at]!
    const delta = Math.min(stepOf(at) || typicalDelta, 2 * typicalDelta)
    // The first stamp's rows end where the next begins; a short last run keeps the usual spacing.
    const places = at === starts.length - 1 || at === 0 ? Math.max(run, typicalRun) : run
    const lead = at === 0 ? places - run : 0
    for (let k = 0; k < run; k++) times[start + k] = stamps[at]! + (delta * (k + lead)) / places
  })
}
