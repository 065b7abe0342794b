import { backwardJump, type ClockJump, type ClockStep, DAY_S, forwardJump } from './clock-jumps.ts'

/** A longer step is looked at: the clock's, or a pause; no source. */
const LONGEST_PAUSE_S = 60

/** A jump back by less is a recorder writing out of order, not a clock that was set. */
const OUT_OF_ORDER_S = 0.2

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
 * What is a step, and what a pause: `clock-jumps.ts`. A jump back by up to 0.2 s is a recorder out of order.
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
    if (jump >= 0 && jump < LONGEST_PAUSE_S) {
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
      if (!(jump >= 0 && jump < LONGEST_PAUSE_S)) {
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
      if (jump >= LONGEST_PAUSE_S && after > -OUT_OF_ORDER_S && after < Math.min(LONGEST_PAUSE_S, jump - 30))
        stamps[k] = this.#last
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
      if (wrap) return this.#step(rawS, -wrap.periodS, wrap.why, true)
      return this.#jump(rawS, backwardJump(jump, rawS, this.#beside(before)))
    }
    const forward = forwardJump(jump, this.#beside(before))
    return forward ? this.#jump(rawS, forward) : rawS + this.#shiftS
  }

  #beside(dateS: number): { spacingS: number; local: boolean; dateS: number } {
    return { spacingS: this.#spacingS, local: this.#local, dateS }
  }

  #jump(rawS: number, { stepS, why }: ClockJump): number {
    return this.#step(rawS, stepS, why)
  }

  #step(rawS: number, stepS: number, why: string, usual = false): number {
    this.#shiftS -= stepS
    this.steps.push({ at_s: rawS + this.#shiftS, step_s: stepS, why, ...(usual ? { usual } : {}) })
    return rawS + this.#shiftS
  }
}
