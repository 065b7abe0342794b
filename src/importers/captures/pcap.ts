import type { RawLog } from '../../../shared/raw-log.ts'
import type { LogSource } from '../../bytes/file-source.ts'
import { LogError } from '../../errors.ts'
import { type FrameReader, readFrameLog } from '../frames/frame-log.ts'
import { FrameOutlet, type FrameSink, SkipCount, type WalkReport } from '../frames/frame-sink.ts'
import type { ImportOptions } from '../importer.ts'
import { IdentifierWords, inItsOrder } from './identifier-order.ts'
import { CAN_LINK_TYPE, DATED_FROM, linkAdvice, takePacket } from './pcap-frame.ts'
import { walkRecords } from './pcap-records.ts'

const MICRO = 0xa1b2c3d4
const NANO = 0xa1b23c4d
/** No capture of frames holds a longer packet; a larger length field is damage. */
const MAX_PACKET = 262144
/** Most bytes of a classic CAN frame's payload. Source: ISO 11898-1. */
const MOST_PAYLOAD = 8
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
  return readFrameLog(source, options, 'pcap', pcapReader)
}

export const pcapReader: FrameReader = (log) => inItsOrder(log, walkPcap)

/**
 * Walks the capture; a record that cannot be is where the walk ends, which is said. Own time is since the first stamp
 * where the capture carries dates, else as written.
 * @throws LogError where the link type is not 227
 */
export async function walkPcap(
  source: LogSource,
  sink: FrameSink,
  words = new IdentifierWords(false),
): Promise<WalkReport> {
  const { little, resolution } = formOf(source.head)!
  checkHead(source, little)
  const skips = new SkipCount()
  let started = false
  let zero: Zero = { second: 0, part: 0, resolution, little }
  const outlet = new FrameOutlet(sink)
  const left = await walkRecords(source, LONGEST, outlet, (view, from, stop, fileOffset) => {
    let at = from
    if (fileOffset + at === 0) {
      if (view.byteLength < HEADER) return 0
      at = HEADER
    }
    while (at < stop) {
      if (at + RECORD > view.byteLength) return at
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
      if (at + RECORD + Math.min(captured, 80) > view.byteLength) return at
      if (!started) {
        started = true
        // a capture without a date counts from its box's start: own time is as written
        if (second >= DATED_FROM) zero = { ...zero, second, part }
      }
      const ownS = second - zero.second + (part - zero.part) * zero.resolution
      takePacket(outlet, skips, ownS, view, at + RECORD, captured, original, fileOffset + at, words)
      at = takeUsual(outlet, view, at + RECORD + captured, stop, zero, words.little)
    }
    return at
  })
  if (left.left > 0) skips.add('a record cut off by the end of the capture', `byte ${left.at}`)
  return {
    startedAt:
      zero.second > 0
        ? new Date(zero.second * 1000 + Math.floor(zero.part * resolution * 1000)).toISOString()
        : null,
    assumed: null,
    frames: outlet.frames,
    skipped: skips.list(),
    clockSteps: outlet.clock.steps,
  }
}

/** @throws LogError where the capture's header is cut short or names another link type than CAN's */
function checkHead({ name, head }: LogSource, little: boolean): void {
  if (head.length < HEADER)
    throw new LogError(
      'pcap',
      `${name}: ends after ${head.length} bytes, inside the capture's header of ${HEADER}.`,
    )
  const linkType = new DataView(head.buffer, head.byteOffset, HEADER).getUint32(20, little) & 0xffff
  if (linkType !== CAN_LINK_TYPE)
    throw new LogError(
      'pcap',
      `${name}: link type ${linkType} at byte 20; ${CAN_LINK_TYPE} (CAN frames) was expected${linkAdvice(linkType)}.`,
    )
}

/** Where own time 0 lies, and how the capture counts. */
interface Zero {
  readonly second: number
  readonly part: number
  readonly resolution: number
  readonly little: boolean
}

/**
 * Most records of most captures: whole classic data frames with a standard identifier. Takes them in one tight loop
 * until one that is anything else, or until `stop`. @returns where the first record not taken begins
 */
function takeUsual(
  outlet: FrameOutlet,
  view: DataView,
  from: number,
  stop: number,
  zero: Zero,
  turned: boolean,
): number {
  const { second, part, resolution, little } = zero
  const { batch } = outlet
  const { ownS, key, flags, at: places, length: lengths } = batch
  const last = Math.min(stop, view.byteLength - RECORD - 16)
  const room = ownS.length
  let count = batch.count
  let at = from
  while (at < last) {
    const captured = view.getUint32(at + 8, little)
    const identifier = view.getInt32(at + RECORD, turned)
    const length = captured - 8
    if (
      captured !== view.getUint32(at + 12, little) ||
      length < 0 ||
      length > MOST_PAYLOAD ||
      identifier < 0 ||
      identifier > 0x7ff ||
      view.getUint8(at + RECORD + 4) !== length ||
      view.getUint8(at + RECORD + 5) !== 0
    )
      break
    ownS[count] = view.getUint32(at, little) - second + (view.getUint32(at + 4, little) - part) * resolution
    key[count] = identifier
    flags[count] = 0
    places[count] = at + RECORD + 8
    lengths[count] = length
    at += RECORD + captured
    if (++count < room) continue
    batch.count = count
    outlet.flush()
    count = 0
  }
  batch.count = count
  return at
}
