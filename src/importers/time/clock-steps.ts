/** A step of a log's own clock: what it jumped by beyond the usual spacing, and when (straightened own time). */
export interface ClockStep {
  readonly at_s: number
  readonly step_s: number
  readonly why: string
}

/** A jump back by less is a recorder writing out of order, not a clock that was set. */
const OUT_OF_ORDER_S = 0.2
/** No drive pauses for a day inside one log: a longer jump forward is the clock being set. */
const DAY_S = 86400
const HOUR_S = 3600

/** Counters that wrap, in seconds: 16 bits of ms, 32 bits of µs, 32 bits of ms, a clock without a date. */
const WRAPS = [
  { periodS: 65.536, why: 'a 16-bit millisecond counter wrapped' },
  { periodS: 4294.967296, why: 'a 32-bit microsecond counter wrapped' },
  { periodS: 4294967.296, why: 'a 32-bit millisecond counter wrapped' },
  { periodS: DAY_S, why: 'clock time passed midnight' },
] as const

/**
 * Takes steps out of a log's own time, stamp by stamp in the order of the log.
 *
 *     as written    10.0 10.1 10.2  7.3  7.4  7.5        back by 3 s: a clock cannot really go back
 *     straightened  10.0 10.1 10.2 10.3 10.4 10.5        the pause is taken as one usual spacing
 *
 * A step is a jump back by more than 0.2 s, a jump forward by more than a day (a 1970 date before the time was set)
 * or, on a clock in local time, by about a whole hour (daylight saving, time zone). Blind: a jump forward by less looks like a pause of the log
 * and stays one; how long a box was off before its counter started again is not in the log.
 */
export class StraightClock {
  readonly steps: ClockStep[] = []
  readonly #local: boolean
  #last = Number.NaN
  #shiftS = 0
  #spacingS = 0

  /** @param local the stamps are a wall clock without a zone: daylight saving may shift it */
  constructor(local = false) {
    this.#local = local
  }

  /** The straightened stamp. NaN passes through. */
  next(rawS: number): number {
    const jump = rawS - this.#last
    if (jump >= 0 && jump < 60) {
      this.#last = rawS
      this.#spacingS += (jump - this.#spacingS) * (this.#spacingS === 0 ? 1 : 0.02)
      return rawS + this.#shiftS
    }
    return this.#odd(rawS, jump)
  }

  /** The first `count` stamps of a block, in place. */
  straighten(stamps: Float64Array, count: number): void {
    let last = this.#last
    const shift = this.#shiftS
    const first = last
    for (let i = 0; i < count; i++) {
      const rawS = stamps[i]!
      const jump = rawS - last
      if (!(jump >= 0 && jump < 60)) {
        this.#last = last
        this.#oddBlock(stamps, i, count)
        return
      }
      last = rawS
      stamps[i] = rawS + shift
    }
    this.#last = last
    if (count > 0) this.#spacingS = (last - first) / count
  }

  #oddBlock(stamps: Float64Array, from: number, count: number): void {
    for (let k = from; k < count; k++) {
      const jump = stamps[k]! - this.#last
      const after = k + 1 < count ? stamps[k + 1]! - this.#last : Number.NaN
      // one stamp far ahead of both neighbours is damage, not a pause
      if (jump >= 60 && after > -OUT_OF_ORDER_S && after < Math.min(60, jump - 30)) stamps[k] = this.#last
      stamps[k] = this.next(stamps[k]!)
    }
  }

  #odd(rawS: number, jump: number): number {
    if (!Number.isFinite(rawS)) return Number.NaN
    if (Number.isNaN(this.#last)) {
      this.#last = rawS
      return rawS
    }
    if (jump < 0 && jump > -OUT_OF_ORDER_S) return rawS + this.#shiftS
    const before = this.#last
    this.#last = rawS
    const near = Math.max(2, 20 * this.#spacingS)
    if (jump < 0) {
      const wrap = WRAPS.find(
        ({ periodS }) =>
          jump + periodS >= 0 && jump + periodS < near && rawS < near && before > periodS - near,
      )
      if (wrap) return this.#step(rawS, -wrap.periodS, wrap.why)
      const toZero = rawS < near && before > 10 * near
      const hour = this.#local && Math.abs(jump + HOUR_S) < near
      return this.#step(
        rawS,
        jump - this.#spacingS,
        hour
          ? 'the clock went back by an hour (daylight saving or time zone)'
          : toZero
            ? 'the counter started again; how long the box was off is not in the log'
            : 'the clock went back',
      )
    }
    if (jump > DAY_S)
      return this.#step(rawS, jump - this.#spacingS, 'the clock was set forward by over a day')
    if (this.#local && Math.abs(jump - HOUR_S) < near)
      return this.#step(
        rawS,
        jump - this.#spacingS,
        'the clock went forward by an hour (daylight saving or time zone)',
      )
    return rawS + this.#shiftS
  }

  #step(rawS: number, stepS: number, why: string): number {
    this.#shiftS -= stepS
    this.steps.push({ at_s: rawS + this.#shiftS, step_s: stepS, why })
    return rawS + this.#shiftS
  }
}
