/**
 * ISO 15765-2, seen from outside: payloads put together again from the frames of one identifier (one address where
 * addressing is extended). Nothing is ever sent.
 *
 *     0n            single frame, n bytes follow (FD: 00 nn)
 *     1n nn         first frame, 12-bit length (0: 32 bits follow)
 *     2n            consecutive frame, sequence 1 … 15, 0, 1 …
 *     30 31 32      flow control: go on, wait, too much; block size, least gap
 *
 * Source: ISO 15765-2 (from memory; `shared/checks.md` S4).
 */
export interface TransportMessage {
  readonly atS: number
  readonly endS: number
  readonly bytes: Uint8Array
  /** Bytes behind the payload's end in its last frame, when they are all alike; null where there are none, or they differ. */
  readonly padding: number | null
}

/** A message that did not come whole, or a frame that cannot be. */
export interface TransportGap {
  readonly atS: number
  readonly what: string
}

export interface FlowControl {
  readonly atS: number
  readonly status: 'go on' | 'wait' | 'too much'
  readonly blockSize: number
  /** Least gap between frames, s; null where the value is reserved. */
  readonly leastGapS: number | null
}

/** The longest payload that is put together; a longer one is counted as a gap. */
const MOST_BYTES = 1 << 20
/** Between two frames of one message (N_Cr). Source: ISO 15765-2, 1000 ms, from memory. */
const TIMEOUT_S = 1

export class IsoTpReader {
  readonly messages: TransportMessage[] = []
  readonly gaps: TransportGap[] = []
  readonly flow: FlowControl[] = []
  readonly #address: number
  #bytes: Uint8Array | null = null
  #length = 0
  #filled = 0
  #next = 1
  #fromS = 0
  #lastS = 0

  /** @param extended the first byte of each frame is an address */
  constructor(extended = false) {
    this.#address = extended ? 1 : 0
  }

  frame(atS: number, frame: Uint8Array): void {
    const data = frame.subarray(this.#address)
    if (data.length === 0) return
    const kind = data[0]! >> 4
    if (kind === 0) this.#single(atS, data)
    else if (kind === 1) this.#first(atS, data)
    else if (kind === 2) this.#consecutive(atS, data)
    else if (kind === 3) this.#control(atS, data)
    else this.#gap(atS, `a frame that begins with ${hex(data[0]!)} is none of this protocol`)
  }

  /** What never ended. */
  end(): void {
    if (this.#bytes) this.#broken(this.#lastS, 'the capture ended')
  }

  #single(atS: number, data: Uint8Array): void {
    const short = data[0]! & 15
    const escaped = short === 0 && data.length + this.#address > 8
    const length = escaped ? (data[1] ?? 0) : short
    const from = escaped ? 2 : 1
    // length 0, or more than the frame can hold: to be ignored
    if (length === 0 || length > data.length - from || (!escaped && length > 7 - this.#address)) {
      this.#gap(atS, `a single frame of length ${length}, ignored`)
      return
    }
    if (this.#bytes) this.#broken(atS, 'another message began')
    this.#done(atS, atS, data.slice(from, from + length), data.subarray(from + length))
  }

  #first(atS: number, data: Uint8Array): void {
    if (this.#bytes) this.#broken(atS, 'another message began')
    let length = ((data[0]! & 15) << 8) | (data[1] ?? 0)
    let from = 2
    if (length === 0 && data.length >= 6) {
      length = ((data[2]! << 24) | (data[3]! << 16) | (data[4]! << 8) | data[5]!) >>> 0
      from = 6
    }
    if (length < 8 - this.#address || length > MOST_BYTES) {
      this.#gap(atS, `a first frame of length ${length}, ignored`)
      return
    }
    this.#bytes = new Uint8Array(length)
    this.#length = length
    this.#filled = Math.min(length, data.length - from)
    this.#bytes.set(data.subarray(from, from + this.#filled))
    this.#next = 1
    this.#fromS = atS
    this.#lastS = atS
  }

  #consecutive(atS: number, data: Uint8Array): void {
    if (!this.#bytes) {
      this.#gap(atS, 'a consecutive frame without its first one')
      return
    }
    if (atS - this.#lastS > TIMEOUT_S) {
      this.#broken(atS, `nothing came for ${(atS - this.#lastS).toFixed(1)} s`)
      return
    }
    const sequence = data[0]! & 15
    if (sequence !== this.#next) {
      this.#broken(atS, `frame ${sequence} came where ${this.#next} was due`)
      return
    }
    const rest = this.#length - this.#filled
    const taken = Math.min(rest, data.length - 1)
    this.#bytes.set(data.subarray(1, 1 + taken), this.#filled)
    this.#filled += taken
    this.#next = (this.#next + 1) & 15
    this.#lastS = atS
    if (this.#filled < this.#length) return
    const bytes = this.#bytes
    this.#bytes = null
    this.#done(this.#fromS, atS, bytes, data.subarray(1 + taken))
  }

  #control(atS: number, data: Uint8Array): void {
    const status = (['go on', 'wait', 'too much'] as const)[data[0]! & 15]
    if (!status) {
      this.#gap(atS, `flow control ${hex(data[0]!)} is not defined`)
      return
    }
    this.flow.push({ atS, status, blockSize: data[1] ?? 0, leastGapS: leastGap(data[2] ?? 0) })
  }

  #done(atS: number, endS: number, bytes: Uint8Array, behind: Uint8Array): void {
    const padding = behind.length > 0 && behind.every((each) => each === behind[0]) ? behind[0]! : null
    this.messages.push({ atS, endS, bytes, padding })
  }

  #broken(atS: number, why: string): void {
    this.#gap(atS, `${this.#filled} of ${this.#length} bytes: ${why}`)
    this.#bytes = null
  }

  #gap(atS: number, what: string): void {
    this.gaps.push({ atS, what })
  }
}

/** STmin: 0 … 127 ms, or 0.1 … 0.9 ms from 0xF1 on. */
function leastGap(byte: number): number | null {
  if (byte <= 0x7f) return byte / 1000
  return byte >= 0xf1 && byte <= 0xf9 ? (byte - 0xf0) / 10_000 : null
}

const hex = (byte: number): string => `0x${byte.toString(16).toUpperCase().padStart(2, '0')}`
