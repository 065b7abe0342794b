import { DATED_FROM, DATED_UNTIL } from './pcap-frame.ts'

/** One interface of a capture: what it carries and how its stamps count. */
export interface Interface {
  readonly linkType: number
  /** Most bytes kept of a packet; 0: all. */
  readonly snapLength: number
  /** Ticks in a second: 10^n or 2^n. */
  readonly ticksPerSecond: bigint
  /** Seconds to add to every stamp. */
  readonly offsetS: bigint
  /** Set at its first packet: the stamp's words, and own time there. */
  baseHigh: number
  baseLow: number
  baseOwnS: number
}

const END = 0
const RESOLUTION = 9
const OFFSET = 14

/**
 * An interface description's body from `at` to `end` (exclusive), options included. An option that runs past the end
 * ends the reading.
 */
export function readInterface(view: DataView, at: number, end: number, little: boolean): Interface {
  let ticksPerSecond = 1_000_000n
  let offsetS = 0n
  let option = at + 8
  while (option + 4 <= end) {
    const code = view.getUint16(option, little)
    const length = view.getUint16(option + 2, little)
    const value = option + 4
    if (code === END || value + length > end) break
    if (code === RESOLUTION && length >= 1) {
      const power = view.getUint8(value)
      const exponent = BigInt(power & 0x7f)
      // more than 10⁻¹⁹ or 2⁻⁶³ of a second cannot count a 64-bit stamp beyond a second
      ticksPerSecond =
        power & 0x80 ? 2n ** (exponent > 63n ? 63n : exponent) : 10n ** (exponent > 19n ? 19n : exponent)
    }
    if (code === OFFSET && length >= 8) offsetS = view.getBigInt64(value, little)
    option = value + ((length + 3) & ~3)
  }
  return {
    linkType: view.getUint16(at, little),
    snapLength: view.getUint32(at + 4, little),
    ticksPerSecond,
    offsetS,
    baseHigh: 0,
    baseLow: 0,
    baseOwnS: Number.NaN,
  }
}

/**
 * Own time of a capture: seconds since its first stamp where that is a date, else as written. Stamps are 64-bit and
 * beyond 2^53 (nanoseconds since 1970): only differences from each interface's first stamp become doubles; where the
 * interfaces lie to each other is worked out in whole numbers.
 */
export class CaptureClock {
  /** ISO 8601 of the first stamp; null where it is no date. */
  startedAt: string | null = null
  /** First stamp of the capture, in nanoseconds; null before it. */
  #zeroNs: bigint | null = null

  ownS(from: Interface, high: number, low: number): number {
    if (Number.isNaN(from.baseOwnS)) this.#start(from, high, low)
    const ticks = (high - from.baseHigh) * 4294967296 + (low - from.baseLow)
    return from.baseOwnS + ticks / Number(from.ticksPerSecond)
  }

  #start(from: Interface, high: number, low: number): void {
    const ticks = (BigInt(high) << 32n) | BigInt(low)
    const ns = (ticks * 1_000_000_000n) / from.ticksPerSecond + from.offsetS * 1_000_000_000n
    if (this.#zeroNs === null) {
      const dated = ns >= BigInt(DATED_FROM) * 1_000_000_000n
      this.#zeroNs = dated ? ns : 0n
      if (dated && ns < BigInt(DATED_UNTIL) * 1_000_000_000n)
        this.startedAt = new Date(Number(ns / 1_000_000n)).toISOString()
    }
    from.baseHigh = high
    from.baseLow = low
    from.baseOwnS = Number(ns - this.#zeroNs) / 1e9
  }
}
