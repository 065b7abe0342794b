import type { Skipped } from '../../../shared/drive.ts'
import { samplePeriod } from '../../samples/on-one-clock.ts'
import { backwardJump, type ClockJump, type ClockStep, forwardJump, HOUR_S } from './clock-jumps.ts'
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
  const period = samplePeriod(stamps) || 0.1
  if (risesEvenly(stamps, period))
    return { timeS: stamps, dropped: false, skipped: [], steps: [], repeats: [], notes: [] }
  const rows = new Straightener(stamps, habits, period, lineOf)
  for (let i = 0; i < stamps.length; ) i += rows.take(i)
  const notes = habits.sharedStamps ? [] : rows.partEqual()
  const skipped = rows.leftOut()
  return {
    timeS: stamps,
    dropped: skipped.length > 0,
    skipped,
    steps: rows.steps,
    repeats: rows.repeats,
    notes,
  }
}

/** Stamps that differ by less are one: what adding up leaves in a double, s. */
const SAME_S = 1e-9
/** So many usual spacings are no longer a stamp beside the one before it; common practice, no source. */
const FAR_SPACINGS = 50
/** Where a larger share of rows have the stamp of the row before, stamps are coarser than rows; no source. */
const COARSE_SHARE = 0.3

/** Why a row is left out. */
const WHY_OUT = {
  unread: 'rows whose time cannot be read',
  late: 'rows whose time goes back',
  again: 'rows that stand twice',
  ahead: 'rows whose time jumps ahead alone',
  twice: 'rows whose time is the row before',
} as const

/** Goes through the rows in order: each is kept, straightened, or left out (NaN). */
class Straightener {
  readonly steps: ClockStep[] = []
  readonly repeats: RepeatedRows[] = []
  readonly #stamps: Float64Array
  readonly #habits: TimeHabits
  readonly #periodS: number
  readonly #lineOf: (row: number) => number
  readonly #highest: number
  readonly #out = new Map<keyof typeof WHY_OUT, { count: number; firstLine: number }>()
  /** What straightens the stamps from here on. */
  #shiftS = 0
  /** The last kept row: straightened, and as written. */
  #lastS = Number.NaN
  #lastStamp = Number.NaN
  /** Rows kept at the very time of the row before. */
  #equal = 0

  constructor(stamps: Float64Array, habits: TimeHabits, periodS: number, lineOf: (row: number) => number) {
    this.#stamps = stamps
    this.#habits = habits
    this.#periodS = periodS
    this.#lineOf = lineOf
    let highest = Number.NEGATIVE_INFINITY
    for (let i = 0; i < stamps.length; i++) if (stamps[i]! > highest) highest = stamps[i]!
    this.#highest = highest
  }

  /** Takes row `i`, or the block of rows to leave out that begins there. @returns how many rows were taken */
  take(i: number): number {
    const stamp = this.#stamps[i]!
    if (!Number.isFinite(stamp)) return this.#leave('unread', i)
    if (Number.isNaN(this.#lastS)) return this.#keep(i, stamp, stamp)
    const jump = stamp - this.#lastStamp
    if (jump > FAR_SPACINGS * this.#periodS && aheadAlone(this.#stamps, i, this.#lastStamp, jump))
      return this.#leave('ahead', i)
    if (stamp + this.#shiftS < this.#lastS - SAME_S) return this.#back(i, stamp, jump)
    const forward = jump > HOUR_S / 2 ? forwardJump(jump, this.#beside()) : null
    if (forward) this.#step(forward)
    return this.#keep(i, stamp, stamp + this.#shiftS)
  }

  /** Time goes back: a counter that wrapped, rows read twice, rows that came late, or a clock that was set back. */
  #back(i: number, stamp: number, jump: number): number {
    const wrapS = wrapOf(this.#lastStamp, stamp, this.#habits, this.#periodS, this.#highest)
    if (wrapS > 0) this.#shiftS += wrapS
    else {
      const repeat = repeatedFrom(this.#stamps, i, this.#shiftS, this.#periodS, this.#habits.sameRow)
      if (repeat) {
        this.repeats.push({ at_s: this.#lastS, ...repeat })
        return this.#leave('again', i, repeat.rows)
      }
      const late = lateRows(this.#stamps, i, this.#lastStamp, this.#periodS)
      if (late > 0) return this.#leave('late', i, late)
      this.#step(backwardJump(jump, stamp, this.#beside()))
    }
    return this.#keep(i, stamp, Math.max(stamp + this.#shiftS, this.#lastS))
  }

  #beside() {
    const { wall, baseS } = this.#habits
    const dateS = wall ? this.#lastStamp + baseS : Number.NaN
    return { spacingS: this.#periodS, local: wall, dateS }
  }

  #step({ stepS, why }: ClockJump): void {
    this.#shiftS -= stepS
    this.steps.push({ at_s: this.#lastS, step_s: stepS, why })
  }

  #keep(i: number, stamp: number, timeS: number): number {
    if (timeS === this.#lastS) this.#equal++
    this.#stamps[i] = timeS
    this.#lastS = timeS
    this.#lastStamp = stamp
    return 1
  }

  #leave(why: keyof typeof WHY_OUT, i: number, rows = 1): number {
    const told = this.#out.get(why)
    if (told) told.count += rows
    else this.#out.set(why, { count: rows, firstLine: this.#lineOf(i) })
    this.#stamps.fill(Number.NaN, i, i + rows)
    return rows
  }

  /** Rows that share a stamp where none should: spread where stamps are coarse, else all but the first left out. */
  partEqual(): string[] {
    const equal = this.#equal
    const n = this.#stamps.length
    if (equal === 0) return []
    if (equal > COARSE_SHARE * n) {
      spreadEvenly(this.#stamps)
      return [
        `Stamps are coarser than rows (${Number((1 + equal / Math.max(1, n - equal)).toFixed(1))} rows share one): rows were spread evenly between them.`,
      ]
    }
    let before = Number.NaN
    for (let i = 0; i < n; i++) {
      const timeS = this.#stamps[i]!
      if (timeS === before) this.#leave('twice', i)
      else if (!Number.isNaN(timeS)) before = timeS
    }
    return []
  }

  leftOut(): Skipped[] {
    return (Object.keys(WHY_OUT) as (keyof typeof WHY_OUT)[]).flatMap((why) => {
      const told = this.#out.get(why)
      return told ? [{ what: WHY_OUT[why], count: told.count, first: `line ${told.firstLine}` }] : []
    })
  }
}

/** Nearly every log: each stamp is read, later than the one before and not far from it. */
function risesEvenly(stamps: Float64Array, period: number): boolean {
  const most = Math.min(FAR_SPACINGS * period, HOUR_S / 2)
  for (let i = 1; i < stamps.length; i++) {
    const spacing = stamps[i]! - stamps[i - 1]!
    if (!(spacing > 0 && spacing <= most)) return false
  }
  return stamps.length > 1 && Number.isFinite(stamps[0]! + stamps[stamps.length - 1]!)
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
    if (stamps[k]! >= before - SAME_S && forward > 0.5 * back && forward > 1.5 * Math.min(period, back))
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
