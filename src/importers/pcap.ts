import type { LogSource } from '../bytes/file-source.ts'
import { LogError } from '../errors.ts'
import { readFrameLog } from './frame-log.ts'
import { type FrameSink, SkipCount, type WalkReport } from './frame-sink.ts'
import { CAN_LINK_TYPE, DATED_FROM, takePacket } from './pcap-frame.ts'
import { walkRecords } from './pcap-records.ts'
import type { RawLog } from './raw-log.ts'
import type { ImportOptions } from './registry.ts'

const MICRO = 0xa1b2c3d4
const NANO = 0xa1b23c4d
/** No capture of frames holds a longer packet; a larger length field is damage. */
const MAX_PACKET = 262144
const HEADER = 24
const RECORD = 16
/** A record's header and the longest frame: all that is ever looked at. */
const LONGEST = RECORD + 80

interface Form {
  readonly little: boolean
  readonly resolution: number
}

function formOf(head: Uint8Array): Form | null {
  if (head.length < 4) return null
  const view = new DataView(head.buffer, head.byteOffset, head.byteLength)
  for (const little of [true, false]) {
    const magic = view.getUint32(0, little)
    if (magic === MICRO) return { little, resolution: 1e-6 }
    if (magic === NANO) return { little, resolution: 1e-9 }
  }
  return null
}

export const isPcap = (head: Uint8Array): boolean => formOf(head) !== null

/** A pcap capture, micro- or nanosecond, either byte order. Source: pcap-savefile(5). */
export function readPcap(source: LogSource, options: ImportOptions): Promise<RawLog> {
  return readFrameLog(source, options, 'pcap', async () => walkPcap)
}

/**
 * Walks the capture; a record that cannot be is where the walk ends, which is said. Own time is since the first stamp
 * where the capture carries dates, else as written.
 * @throws LogError where the link type is not 227
 */
export async function walkPcap(source: LogSource, sink: FrameSink): Promise<WalkReport> {
  const { little, resolution } = formOf(source.head)!
  const skips = new SkipCount()
  if (source.head.length < HEADER)
    throw new LogError(
      'pcap',
      `${source.name}: ends after ${source.head.length} bytes, inside the capture's header of ${HEADER}.`,
    )
  const head = new DataView(source.head.buffer, source.head.byteOffset, HEADER)
  const linkType = head.getUint32(20, little) & 0xffff
  if (linkType !== CAN_LINK_TYPE)
    throw new LogError(
      'pcap',
      `${source.name}: link type ${linkType} at byte 20; ${CAN_LINK_TYPE} (CAN frames) was expected.`,
    )
  let firstSecond = -1
  let firstPart = 0
  let frames = 0
  const left = await walkRecords(source, LONGEST, (bytes, from, stop, fileOffset) => {
    const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength)
    let at = from
    if (fileOffset + at === 0) {
      if (bytes.length < HEADER) return 0
      at = HEADER
    }
    while (at < stop) {
      if (at + RECORD > bytes.length) return at
      const second = view.getUint32(at, little)
      const part = view.getUint32(at + 4, little)
      const captured = view.getUint32(at + 8, little)
      const original = view.getUint32(at + 12, little)
      if (captured > MAX_PACKET || captured > original) {
        skips.add(
          'rest of the capture',
          `byte ${fileOffset + at + 8}: a packet of ${captured} bytes cannot be; at most ${Math.min(original, MAX_PACKET)} were expected`,
        )
        return -1
      }
      if (at + RECORD + Math.min(captured, 80) > bytes.length) return at
      if (firstSecond < 0) {
        // a capture without a date counts from its box's start: own time is as written
        firstSecond = second < DATED_FROM ? 0 : second
        firstPart = second < DATED_FROM ? 0 : part
      }
      const ownS = second - firstSecond + (part - firstPart) * resolution
      if (takePacket(sink, skips, ownS, bytes, at + RECORD, captured, original, fileOffset + at)) frames++
      at += RECORD + captured
    }
    return at
  })
  if (left.left > 0) skips.add('a record cut off by the end of the capture', `byte ${left.at}`)
  return {
    startedAtMs: firstSecond > 0 ? firstSecond * 1000 + firstPart * resolution * 1000 : null,
    frames,
    skipped: skips.list(),
  }
}
