import { FD_FRAME, FD_SWITCHED, type FrameBatch } from './frame-sink.ts'

/**
 * Bits that a frame takes on the bus, the three bits of intermission included.
 * Source: classic frames 47 + 8n (11-bit identifier) and 67 + 8n (29-bit); at worst one stuff bit in four over the
 * stuffed part: ⌊(34 + 8n − 1)/4⌋ and ⌊(54 + 8n − 1)/4⌋ (Tindell; Davis, Burns, Bril, Lukkien 2007).
 */
export function frameBits(extended: boolean, bytes: number): number {
  return (extended ? 67 : 47) + 8 * bytes
}

export function worstStuffBits(extended: boolean, bytes: number): number {
  return Math.floor(((extended ? 54 : 34) + 8 * bytes - 1) / 4)
}

/**
 * A flexible-data-rate frame in bit times of the slow phase: about 30 (11-bit) or 49 (29-bit) slow bits around a fast
 * phase of 8n + 27 bits (32 above 16 bytes), which lasts `fast` times shorter where the rate is switched.
 * Source: ISO 11898-1 field lengths, from memory; stuffing left out.
 */
function fdFrameBits(extended: boolean, bytes: number, switched: boolean, fast = 4): number {
  const quick = 8 * bytes + (bytes > 16 ? 32 : 27)
  return (extended ? 49 : 30) + quick / (switched ? fast : 1)
}

/** Usual bit rates, bit/s. Common practice, no source. */
const USUAL_BIT_RATES = [125_000, 250_000, 500_000, 1_000_000] as const

/** The smallest usual rate that the busiest second fits into; the largest where none does. */
export function inferBitRate(bitsPerSecond: ArrayLike<number>): number {
  let most = 0
  for (let i = 0; i < bitsPerSecond.length; i++) most = Math.max(most, bitsPerSecond[i]!)
  return USUAL_BIT_RATES.find((rate) => most <= rate) ?? USUAL_BIT_RATES[USUAL_BIT_RATES.length - 1]!
}

const MAX_SECONDS = 7 * 86400

/** Bits on the bus, second by second from the first frame; a week at most. */
export class BusLoad {
  firstS = Number.NaN
  lastS = Number.NaN
  #bits = new Float64Array(1024)
  #stuff = new Float64Array(1024)
  #second = 0
  #from = Number.NaN
  #to = Number.NaN

  /** Data frames in the order of the log. */
  spendBatch({ count, ownS, key, flags, length }: FrameBatch): void {
    let from = this.#from
    let to = this.#to
    let bits = 0
    let stuff = 0
    for (let i = 0; i < count; i++) {
      const moment = ownS[i]!
      if (!(moment >= from && moment < to)) {
        this.#add(bits, stuff)
        bits = 0
        stuff = 0
        this.#turn(moment)
        from = this.#from
        to = this.#to
      }
      const extended = key[i]! < 0
      const bytes = length[i]!
      if ((flags[i]! & FD_FRAME) === 0) {
        bits += (extended ? 67 : 47) + 8 * bytes
        stuff += ((extended ? 53 : 33) + 8 * bytes) >> 2
      } else bits += fdFrameBits(extended, bytes, (flags[i]! & FD_SWITCHED) !== 0)
    }
    this.#add(bits, stuff)
    if (count > 0) this.lastS = ownS[count - 1]!
  }

  /** A remote frame: no data. */
  spendRemote(ownS: number, key: number): void {
    if (!(ownS >= this.#from && ownS < this.#to)) this.#turn(ownS)
    this.#add(frameBits(key < 0, 0), worstStuffBits(key < 0, 0))
    this.lastS = ownS
  }

  #add(bits: number, stuff: number): void {
    this.#bits[this.#second]! += bits
    this.#stuff[this.#second]! += stuff
  }

  /** Nominal bits in each second. */
  bitsPerSecond(): Float64Array {
    return this.#bits.subarray(0, this.#seconds())
  }

  /** The same with as many stuff bits as can be. */
  worstBitsPerSecond(): Float64Array {
    return this.#bits.map((bits, second) => bits + this.#stuff[second]!).subarray(0, this.#seconds())
  }

  #seconds(): number {
    return Math.min(MAX_SECONDS, Math.floor(this.lastS - this.firstS) + 1) || 0
  }

  #turn(ownS: number): void {
    if (Number.isNaN(this.firstS)) this.firstS = ownS
    const second = Math.max(0, Math.min(MAX_SECONDS - 1, Math.floor(ownS - this.firstS)))
    if (second >= this.#bits.length) {
      const length = Math.min(MAX_SECONDS, Math.max(second + 1, this.#bits.length * 2))
      this.#bits = widened(this.#bits, length)
      this.#stuff = widened(this.#stuff, length)
    }
    this.#second = second
    this.#from = this.firstS + second
    this.#to = this.#from + 1
  }
}

function widened(values: Float64Array, length: number): Float64Array<ArrayBuffer> {
  const wider = new Float64Array(length)
  wider.set(values)
  return wider
}
