import type { LogSource } from '../../bytes/file-source.ts'
import type { FrameSink, FrameWalk, WalkReport } from '../frames/frame-sink.ts'

/** Reads the identifier words of a capture, and counts those that cannot be. */
export class IdentifierWords {
  /** Little-endian, against the standard. */
  readonly little: boolean
  impossible = 0

  constructor(little: boolean) {
    this.little = little
  }

  read(bytes: DataView, at: number): number {
    const word = bytes.getInt32(at, this.little)
    if (cannotBe(word)) this.impossible++
    return word
  }
}

/**
 * No controller writes such a word: more than 11 bits without the flag for 29, or an error report with bits beside its
 * classes. Flags: bit 31 extended, 30 remote, 29 error. Source: Linux uapi can.h and can/error.h, from memory.
 */
const cannotBe = (word: number): boolean =>
  (word & 0x20000000) !== 0 ? (word & ~0x200003ff) !== 0 : word >= 0 && (word & 0x1ffff800) !== 0

type OrderedWalk = (source: LogSource, sink: FrameSink, words: IdentifierWords) => Promise<WalkReport>

const NOBODY: FrameSink = { batch() {}, remote() {}, error() {} }
/** At least this share cannot be as the standard has it, and at most that share turned round. study: none, round figures. */
const MANY = 0.2
const FEW = 0.02

/**
 * A walk that reads identifiers as they stand: big-endian, as the standard has it, unless the first frames are
 * impossible so and possible the other way round. Then says so.
 */
export async function inItsOrder(source: LogSource, walk: OrderedWalk): Promise<FrameWalk> {
  const little = await standsTurned(source, walk)
  return async (again, sink) => {
    const report = await walk(again, sink, new IdentifierWords(little))
    return little
      ? {
          ...report,
          assumed:
            'Identifiers stand in the other byte order (the standard is big-endian; read so, they cannot be): they were turned round.',
        }
      : report
  }
}

async function standsTurned(source: LogSource, walk: OrderedWalk): Promise<boolean> {
  const head: LogSource = {
    ...source,
    async *chunks() {
      yield source.head
    },
  }
  const asStandard = new IdentifierWords(false)
  // what is wrong with the capture itself is said by the walk over all of it
  const frames = await walk(head, NOBODY, asStandard).then(
    (report) => report.frames,
    () => 0,
  )
  if (asStandard.impossible === 0 || asStandard.impossible < MANY * frames) return false
  const turned = new IdentifierWords(true)
  await walk(head, NOBODY, turned)
  return turned.impossible <= FEW * frames
}
