import type { LogSource } from '../bytes/file-source.ts'
import { LogError } from '../errors.ts'
import { frameReaderOf } from '../importers/frame-readers.ts'
import { FrameIdentifiers } from '../importers/frames/frame-identifiers.ts'
import type { FrameBatch, FrameSink, WalkReport } from '../importers/frames/frame-sink.ts'

/** Payload bytes kept at once; what comes after is counted and said. */
const MOST_BYTES = 2 ** 30

/**
 * All frames of one identifier (or of one selector value of it), in order of time.
 *
 *     timeS  0.00  0.01 …        own time
 *     data   stride bytes a row  payload, zeros behind its end
 */
export interface Message {
  /** Identifier; negative when extended. */
  readonly key: number
  readonly count: number
  readonly timeS: Float64Array
  readonly data: Uint8Array
  /** Bytes a row: a multiple of 4, at least 8. */
  readonly stride: number
  /** Payload bytes of its longest frame. */
  readonly bytes: number
  /** Payload bytes of its shortest frame. */
  readonly least: number
}

export interface Captured {
  readonly name: string
  /** By identifier, lowest first. */
  readonly messages: readonly Message[]
  readonly report: WalkReport
  readonly dataFrames: number
  readonly remoteFrames: number
  readonly errorFrames: number
  /** Frames beyond what is kept. */
  readonly left: number
}

class Growing {
  readonly key: number
  count = 0
  stride: number
  bytes = 0
  least = 64
  timeS = new Float64Array(64)
  data: Uint8Array

  constructor(key: number, bytes: number) {
    this.key = key
    this.stride = strideOf(bytes)
    this.data = new Uint8Array(64 * this.stride)
  }

  take(ownS: number, view: DataView, at: number, bytes: number): void {
    if (bytes > this.stride) this.#widen(strideOf(bytes))
    if (this.count === this.timeS.length) this.#grow()
    const { stride, data, count } = this
    // a time never falls: frames that a recorder wrote out of order move up to the one before
    this.timeS[count] = count > 0 && ownS < this.timeS[count - 1]! ? this.timeS[count - 1]! : ownS
    const to = count * stride
    for (let k = 0; k < bytes; k++) data[to + k] = view.getUint8(at + k)
    if (bytes > this.bytes) this.bytes = bytes
    if (bytes < this.least) this.least = bytes
    this.count++
  }

  done(): Message {
    const { key, count, stride, bytes, least } = this
    return {
      key,
      count,
      stride,
      bytes,
      least,
      timeS: this.timeS.subarray(0, count),
      data: this.data.subarray(0, count * stride),
    }
  }

  #grow(): void {
    const timeS = new Float64Array(this.timeS.length * 2)
    timeS.set(this.timeS)
    this.timeS = timeS
    const data = new Uint8Array(this.data.length * 2)
    data.set(this.data)
    this.data = data
  }

  #widen(stride: number): void {
    const data = new Uint8Array(this.timeS.length * stride)
    for (let i = 0; i < this.count; i++)
      data.set(this.data.subarray(i * this.stride, (i + 1) * this.stride), i * stride)
    this.stride = stride
    this.data = data
  }
}

const strideOf = (bytes: number): number => Math.max(8, Math.ceil(bytes / 4) * 4)

class Gather implements FrameSink {
  readonly #numbers = new FrameIdentifiers()
  readonly growing: Growing[] = []
  dataFrames = 0
  remoteFrames = 0
  errorFrames = 0
  left = 0
  #held = 0

  batch({ count, ownS, key, at, length, view }: FrameBatch): void {
    this.dataFrames += count
    for (let i = 0; i < count; i++) {
      const number = this.#numbers.numberOf(key[i]!)
      if (number < 0 || this.#held > MOST_BYTES) {
        this.left++
        continue
      }
      const bytes = length[i]!
      let message = this.growing[number]
      if (!message) this.growing[number] = message = new Growing(key[i]!, bytes)
      message.take(ownS[i]!, view, at[i]!, bytes)
      this.#held += message.stride + 8
    }
  }

  remote(): void {
    this.remoteFrames++
  }

  error(): void {
    this.errorFrames++
  }
}

/** Reads a capture's frames, one array an identifier. @throws LogError where the log holds no frames */
export async function gatherFrames(source: LogSource): Promise<Captured> {
  const reader = frameReaderOf(source.head)
  if (!reader)
    throw new LogError(
      'no-frames',
      `${source.name}: holds no CAN frames; a capture (pcap, pcapng) or a CSV with a frame a row was expected.`,
    )
  const walk = await reader(source, null)
  const gather = new Gather()
  const report = await walk(source, gather)
  if (gather.dataFrames === 0)
    throw new LogError('no-frames', `${source.name}: holds no CAN frame that can be read.`)
  return {
    name: source.name,
    messages: gather.growing.map((each) => each.done()).sort((a, b) => (a.key >>> 0) - (b.key >>> 0)),
    report,
    dataFrames: gather.dataFrames,
    remoteFrames: gather.remoteFrames,
    errorFrames: gather.errorFrames,
    left: gather.left,
  }
}

/** The rows of a message for which `keep` says yes, as a message of their own. */
export function rowsOf(message: Message, keep: (row: number) => boolean): Message {
  const rows: number[] = []
  for (let i = 0; i < message.count; i++) if (keep(i)) rows.push(i)
  const { stride } = message
  const timeS = new Float64Array(rows.length)
  const data = new Uint8Array(rows.length * stride)
  rows.forEach((row, to) => {
    timeS[to] = message.timeS[row]!
    data.set(message.data.subarray(row * stride, (row + 1) * stride), to * stride)
  })
  return { ...message, count: rows.length, timeS, data }
}
