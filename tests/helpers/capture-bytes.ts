/**
 * Writes captures for tests, by the formats' specifications (pcap-savefile(5), draft-ietf-opsawg-pcapng, the
 * LINKTYPE_CAN_SOCKETCAN page), independently of the readers.
 */
export interface TestFrame {
  /** Nanoseconds. */
  readonly ns: bigint
  readonly identifier: number
  readonly extended?: boolean
  readonly remote?: boolean
  readonly error?: boolean
  readonly fd?: number
  readonly data: readonly number[]
}

/** @param turned writes the identifier little-endian, as some boxes do against the standard */
export function packetOf(frame: TestFrame, turned = false): Buffer {
  const bytes = Buffer.alloc(8 + frame.data.length)
  const flags =
    (frame.extended ? 0x80000000 : 0) + (frame.remote ? 0x40000000 : 0) + (frame.error ? 0x20000000 : 0)
  if (turned) bytes.writeUInt32LE(flags + frame.identifier, 0)
  else bytes.writeUInt32BE(flags + frame.identifier, 0)
  bytes[4] = frame.data.length
  bytes[5] = frame.fd ?? 0
  Buffer.from(frame.data).copy(bytes, 8)
  return bytes
}

export function pcapOf(
  frames: readonly TestFrame[],
  form: {
    readonly little?: boolean
    readonly nano?: boolean
    readonly linkType?: number
    readonly turned?: boolean
  } = {},
): Buffer {
  const little = form.little ?? true
  const word = (value: number): Buffer => {
    const bytes = Buffer.alloc(4)
    if (little) bytes.writeUInt32LE(value)
    else bytes.writeUInt32BE(value)
    return bytes
  }
  const half = (value: number): Buffer =>
    little ? Buffer.from([value & 255, value >> 8]) : Buffer.from([value >> 8, value & 255])
  const parts = [
    word(form.nano ? 0xa1b23c4d : 0xa1b2c3d4),
    half(2),
    half(4),
    word(0),
    word(0),
    word(65535),
    word(form.linkType ?? 227),
  ]
  const unit = form.nano ? 1n : 1000n
  for (const frame of frames) {
    const packet = packetOf(frame, form.turned)
    parts.push(
      word(Number(frame.ns / 1_000_000_000n)),
      word(Number((frame.ns % 1_000_000_000n) / unit)),
      word(packet.length),
      word(packet.length),
      packet,
    )
  }
  return Buffer.concat(parts)
}

export class PcapngBytes {
  readonly #parts: Buffer[] = []
  readonly #little: boolean

  constructor(little = true) {
    this.#little = little
    this.block(
      0x0a0d0d0a,
      Buffer.concat([this.word(0x1a2b3c4d), this.half(1), this.half(0), Buffer.alloc(8, 255)]),
    )
  }

  word(value: number): Buffer {
    const bytes = Buffer.alloc(4)
    if (this.#little) bytes.writeUInt32LE(value >>> 0)
    else bytes.writeUInt32BE(value >>> 0)
    return bytes
  }

  half(value: number): Buffer {
    return this.#little ? Buffer.from([value & 255, value >> 8]) : Buffer.from([value >> 8, value & 255])
  }

  block(type: number, body: Buffer): this {
    const padded = Buffer.concat([body, Buffer.alloc((4 - (body.length % 4)) % 4)])
    const length = this.word(12 + padded.length)
    this.#parts.push(this.word(type), length, padded, length)
    return this
  }

  interface(
    options: {
      readonly linkType?: number
      readonly resolution?: number
      readonly offsetS?: bigint
      readonly snap?: number
    } = {},
  ): this {
    const parts = [this.half(options.linkType ?? 227), this.half(0), this.word(options.snap ?? 0)]
    if (options.resolution !== undefined)
      parts.push(this.half(9), this.half(1), Buffer.from([options.resolution, 0, 0, 0]))
    if (options.offsetS !== undefined) {
      const bytes = Buffer.alloc(8)
      if (this.#little) bytes.writeBigInt64LE(options.offsetS)
      else bytes.writeBigInt64BE(options.offsetS)
      parts.push(this.half(14), this.half(8), bytes)
    }
    if (parts.length > 3) parts.push(Buffer.alloc(4))
    return this.block(1, Buffer.concat(parts))
  }

  /** Ticks of the interface's own resolution. */
  packet(number: number, ticks: bigint, packet: Buffer): this {
    return this.block(
      6,
      Buffer.concat([
        this.word(number),
        this.word(Number(ticks >> 32n)),
        this.word(Number(ticks & 0xffffffffn)),
        this.word(packet.length),
        this.word(packet.length),
        packet,
      ]),
    )
  }

  simple(packet: Buffer): this {
    return this.block(3, Buffer.concat([this.word(packet.length), packet]))
  }

  bytes(): Buffer {
    return Buffer.concat(this.#parts)
  }
}
