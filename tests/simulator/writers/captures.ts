import type { Frame } from './frames.ts'

/**
 * Capture files of link type 227: each packet is identifier and flags (4 bytes, big-endian), length, three flag
 * bytes, payload. Written from the public descriptions of pcap, pcapng and the link type; the worked bytes F6 and F10
 * of `tests/simulator/writers.test.ts` hold them.
 */
const LINK_TYPE = 227
const EXTENDED = 0x80000000

export interface CaptureDialect {
  readonly nanoseconds: boolean
  readonly bigEndian: boolean
  /** Wall clock at own time 0, ISO 8601. */
  readonly startsAt: string
}

class Bytes {
  private view = new DataView(new ArrayBuffer(1 << 16))
  length = 0

  constructor(private readonly little: boolean) {}

  room(count: number): void {
    if (this.length + count <= this.view.byteLength) return
    const bigger = new Uint8Array(Math.max(this.view.byteLength * 2, this.length + count))
    bigger.set(new Uint8Array(this.view.buffer, 0, this.length))
    this.view = new DataView(bigger.buffer)
  }
  u32(value: number): void {
    this.room(4)
    this.view.setUint32(this.length, value >>> 0, this.little)
    this.length += 4
  }
  u16(value: number): void {
    this.room(2)
    this.view.setUint16(this.length, value, this.little)
    this.length += 2
  }
  packet(frame: Frame): void {
    this.room(8 + frame.data.length)
    this.view.setUint32(this.length, (frame.identifier | (frame.extended ? EXTENDED : 0)) >>> 0, false)
    this.view.setUint8(this.length + 4, frame.data.length)
    new Uint8Array(this.view.buffer).set(frame.data, this.length + 8)
    this.length += 8 + frame.data.length
  }
  /** One byte, padded to four. */
  padded(value: number): void {
    this.room(4)
    this.view.setUint8(this.length, value)
    this.length += 4
  }
  pad(): void {
    while (this.length % 4 !== 0) {
      this.room(1)
      this.length++
    }
  }
  done(): Uint8Array {
    return new Uint8Array(this.view.buffer, 0, this.length)
  }
}

/** Whole ticks since 1970 and the split that pcap wants. */
function stamp(frame: Frame, dialect: CaptureDialect): { seconds: number; part: number; ticks: bigint } {
  const perSecond = dialect.nanoseconds ? 1_000_000_000n : 1_000_000n
  const start = BigInt(Date.parse(dialect.startsAt)) * (perSecond / 1000n)
  const ticks = start + BigInt(Math.round(frame.ownS * 1e6)) * (perSecond / 1_000_000n)
  return { seconds: Number(ticks / perSecond), part: Number(ticks % perSecond), ticks }
}

export function writePcap(frames: readonly Frame[], dialect: CaptureDialect): Uint8Array {
  const out = new Bytes(!dialect.bigEndian)
  out.u32(dialect.nanoseconds ? 0xa1b23c4d : 0xa1b2c3d4)
  out.u16(2)
  out.u16(4)
  for (const word of [0, 0, 65535, LINK_TYPE]) out.u32(word)
  for (const frame of frames) {
    const { seconds, part } = stamp(frame, dialect)
    for (const word of [seconds, part, 8 + frame.data.length, 8 + frame.data.length]) out.u32(word)
    out.packet(frame)
  }
  return out.done()
}

export function writePcapng(frames: readonly Frame[], dialect: CaptureDialect): Uint8Array {
  const out = new Bytes(!dialect.bigEndian)
  for (const word of [0x0a0d0d0a, 28, 0x1a2b3c4d]) out.u32(word)
  out.u16(1)
  out.u16(0)
  for (const word of [0xffffffff, 0xffffffff, 28]) out.u32(word)
  // Interface: link type, no length limit, option 9 (ticks a second as a power of ten), end of options.
  for (const word of [1, 32]) out.u32(word)
  out.u16(LINK_TYPE)
  out.u16(0)
  out.u32(0)
  out.u16(9)
  out.u16(1)
  out.padded(dialect.nanoseconds ? 9 : 6)
  out.u32(0)
  out.u32(32)
  for (const frame of frames) {
    const { ticks } = stamp(frame, dialect)
    const length = 8 + frame.data.length
    const whole = 32 + Math.ceil(length / 4) * 4
    for (const word of [6, whole, 0, Number(ticks >> 32n), Number(ticks & 0xffffffffn), length, length])
      out.u32(word)
    out.packet(frame)
    out.pad()
    out.u32(whole)
  }
  return out.done()
}
