import type { Channel } from '../../shared/drive.ts'
import type { Span } from '../../shared/units.ts'
import { silences } from '../math/silences.ts'

/** A silence of every channel longer than this is cut short in a grid, s. */
const LONG_S = 600
/** What is left of it, s: longer than any look ahead on a grid (two minutes), so that a long stop stays a long stop. */
const KEPT_S = 150

/**
 * Time in which something was logged. Grids over a drive are laid in it, so that they cost what was logged and not what
 * a clock claims to lie between:
 *
 *     drive  |####|..................|####|      . nothing logged for over ten minutes
 *     heard  |####|..|####|                      two and a half minutes of each silence are left
 *
 * Without such a silence it is the drive's own time, to the last bit.
 */
export class HeardTime {
  /** Length in heard seconds. */
  readonly lengthS: number
  /** What is left out, in drive time, ascending. */
  readonly #left: readonly Span[]
  /** Seconds left out before each of them. */
  readonly #gone: readonly number[]

  constructor(series: readonly ArrayLike<number>[], durationS: number, from = 0) {
    this.#left = silences(series, LONG_S, from, durationS).map(([start, to]): Span => [start + KEPT_S, to])
    let goneS = 0
    this.#gone = this.#left.map(([start, to]) => {
      goneS += to - start
      return goneS - (to - start)
    })
    this.lengthS = durationS - goneS
  }

  /** Is anything left out? */
  get whole(): boolean {
    return this.#left.length === 0
  }

  /** Drive time → heard time; a moment inside what is left out gives the moment where it is left. */
  heard(atS: number): number {
    if (this.whole) return atS
    const at = this.#before((span) => span[0] < atS)
    if (at < 0) return atS
    const [from, to] = this.#left[at]!
    return atS - this.#gone[at]! - (Math.min(atS, to) - from)
  }

  /** The same for ascending times; the array itself where nothing is left out. */
  heardAll(timeS: Float64Array): Float64Array {
    if (this.whole) return timeS
    const out = new Float64Array(timeS.length)
    let next = 0
    let goneS = 0
    for (let i = 0; i < timeS.length; i++) {
      const atS = timeS[i]!
      for (; next < this.#left.length && this.#left[next]![1] <= atS; next++)
        goneS += this.#left[next]![1] - this.#left[next]![0]
      const inside = this.#left[next]
      out[i] = atS - goneS - (inside && atS > inside[0] ? atS - inside[0] : 0)
    }
    return out
  }

  /** Heard time → drive time. */
  drive(heardS: number): number {
    if (this.whole) return heardS
    const at = this.#before((span, goneS) => span[0] - goneS < heardS)
    if (at < 0) return heardS
    return heardS + this.#gone[at]! + this.#left[at]![1] - this.#left[at]![0]
  }

  /** Moments `stepS` apart in heard time, as drive time: ascending, from 0, all before the drive's end. */
  evenly(stepS: number): Float64Array {
    const moments = new Float64Array(Math.max(1, Math.ceil(this.lengthS / stepS)))
    let next = 0
    let goneS = 0
    for (let i = 0; i < moments.length; i++) {
      for (; next < this.#left.length && i * stepS + goneS > this.#left[next]![0]; next++)
        goneS += this.#left[next]![1] - this.#left[next]![0]
      moments[i] = i * stepS + goneS
    }
    return moments
  }

  /** The last span of those that hold, which are the first ones; −1 where none does. */
  #before(holds: (span: Span, goneS: number) => boolean): number {
    let low = 0
    let high = this.#left.length
    while (low < high) {
      const middle = (low + high) >>> 1
      if (holds(this.#left[middle]!, this.#gone[middle]!)) low = middle + 1
      else high = middle
    }
    return low - 1
  }
}

/** The heard time of a drive: of all its channels together. */
export function heardTime(channels: ReadonlyMap<string, Channel>, durationS: number): HeardTime {
  return new HeardTime([...new Set([...channels.values()].map(({ timeS }) => timeS))], durationS)
}
