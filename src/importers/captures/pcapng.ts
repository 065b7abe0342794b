import type { RawLog } from '../../../shared/raw-log.ts'
import type { LogSource } from '../../bytes/file-source.ts'
import { LogError } from '../../errors.ts'
import { readFrameLog } from '../frames/frame-log.ts'
import { FrameOutlet, type FrameSink, SkipCount, type WalkReport } from '../frames/frame-sink.ts'
import type { ImportOptions } from '../importer.ts'
import { IdentifierWords, inItsOrder } from './identifier-order.ts'
import { CAN_LINK_TYPE, linkAdvice, takePacket } from './pcap-frame.ts'
import { walkRecords } from './pcap-records.ts'
import { CaptureClock, type Interface, readInterface } from './pcapng-interface.ts'

const SECTION = 0x0a0d0d0a
const INTERFACE = 1
const OLD_PACKET = 2
const SIMPLE_PACKET = 3
const ENHANCED_PACKET = 6
const BYTE_ORDER = 0x1a2b3c4d
/** Blocks whose inside is read are never longer, save for options that do not matter. */
const LONGEST = 4096
/** An enhanced packet's header and the longest frame: all that is looked at. */
const PACKET_LOOK = 28 + 80

export const isPcapng = (head: Uint8Array): boolean =>
  head.length >= 12 && new DataView(head.buffer, head.byteOffset).getUint32(0) === SECTION

/** A pcapng capture. Source: draft-ietf-opsawg-pcapng. */
export function readPcapng(source: LogSource, options: ImportOptions): Promise<RawLog> {
  return readFrameLog(source, options, 'pcapng', (log) => inItsOrder(log, walkPcapng))
}

/**
 * Walks the capture: sections in either byte order, several interfaces with their own resolution and offset, simple,
 * enhanced and old packet blocks. Other blocks are stepped over without being held; a block that cannot be is where
 * the walk ends, which is said.
 * @throws LogError where the first section is no pcapng, or no interface carries CAN frames
 */
export async function walkPcapng(
  source: LogSource,
  sink: FrameSink,
  words = new IdentifierWords(false),
): Promise<WalkReport> {
  const skips = new SkipCount()
  const clock = new CaptureClock()
  let little = true
  let interfaces: Interface[] = []
  let canInterfaces = 0
  let firstOther = -1
  let sections = 0
  const outlet = new FrameOutlet(sink)
  let lastS = 0

  const stop = (place: number, what: string): -1 => {
    if (sections === 0)
      throw new LogError('pcapng', `${source.name}: byte ${place}: ${what}; a pcapng section was expected.`)
    skips.add('rest of the capture', `byte ${place}: ${what}`)
    return -1
  }

  const packet = (view: DataView, at: number, type: number, body: number, place: number): void => {
    const simple = type === SIMPLE_PACKET
    const old = type === OLD_PACKET
    const number = simple ? 0 : old ? view.getUint16(at, little) : view.getUint32(at, little)
    const from = interfaces[number]
    if (!from) {
      skips.add('packets of an interface that the capture does not describe', `byte ${place}`)
      return
    }
    if (from.linkType !== CAN_LINK_TYPE) {
      skips.add(`packets of link type ${from.linkType}, which carries no CAN frames`, `byte ${place}`)
      return
    }
    const head = simple ? 4 : 20
    const original = view.getUint32(simple ? at : at + 16, little)
    const stated = simple
      ? Math.min(original, from.snapLength === 0 ? original : from.snapLength)
      : view.getUint32(at + 12, little)
    if (stated > body - head) {
      skips.add('packets longer than their block', `byte ${place}`)
      return
    }
    if (!simple) lastS = clock.ownS(from, view.getUint32(at + 4, little), view.getUint32(at + 8, little))
    else skips.add('packets without a time, taken at the last time before them', `byte ${place}`)
    takePacket(outlet, skips, lastS, view, at + head, stated, original, place, words)
  }

  const left = await walkRecords(source, LONGEST, outlet, (view, from, end, fileOffset) => {
    let at = from
    while (at < end) {
      if (at + 12 > view.byteLength) return at
      const place = fileOffset + at
      const isSection = view.getUint32(at) === SECTION
      if (isSection) {
        const magic = view.getUint32(at + 8, true)
        if (magic !== BYTE_ORDER && view.getUint32(at + 8) !== BYTE_ORDER)
          return stop(place + 8, `byte-order mark 0x${magic.toString(16)} is none`)
        little = magic === BYTE_ORDER
      } else if (sections === 0) return stop(place, 'no section header')
      const type = view.getUint32(at, little)
      const length = view.getUint32(at + 4, little)
      if (length < 12 || length % 4 !== 0 || (isSection && length < 28))
        return stop(place + 4, `a block of ${length} bytes cannot be`)
      const isPacket = type === ENHANCED_PACKET || type === SIMPLE_PACKET || type === OLD_PACKET
      const need = Math.min(length, isPacket ? PACKET_LOOK : isSection || type === INTERFACE ? LONGEST : 12)
      if (at + need > view.byteLength) return at
      if (isPacket || isSection || type === INTERFACE) {
        if (at + length <= view.byteLength && view.getUint32(at + length - 4, little) !== length)
          return stop(place + length - 4, `a block's length is ${length} at its start but not at its end`)
      }
      if (isSection) {
        const version = view.getUint16(at + 12, little)
        if (version !== 1) return stop(place + 12, `version ${version} of the format; 1 was expected`)
        interfaces = []
        sections++
      } else if (type === INTERFACE) {
        if (length < 20) return stop(place + 4, `an interface block of ${length} bytes cannot be`)
        const found = readInterface(view, at + 8, at + need - 4, little)
        if (found.linkType === CAN_LINK_TYPE) canInterfaces++
        else if (firstOther < 0) firstOther = found.linkType
        interfaces.push(found)
      } else if (isPacket) {
        const least = type === SIMPLE_PACKET ? 16 : 32
        if (length < least) return stop(place + 4, `a packet block of ${length} bytes cannot be`)
        packet(view, at + 8, type, length - 12, place)
      }
      at += length
    }
    return at
  })
  if (left.left > 0) {
    if (sections === 0)
      throw new LogError(
        'pcapng',
        `${source.name}: ends after ${left.left} bytes, inside its first section header.`,
      )
    skips.add('a block cut off by the end of the capture', `byte ${left.at}`)
  }
  if (canInterfaces === 0 && firstOther >= 0)
    throw new LogError(
      'pcapng',
      `${source.name}: link type ${firstOther}; ${CAN_LINK_TYPE} (CAN frames) was expected${linkAdvice(firstOther)}.`,
    )
  return {
    startedAt: clock.startedAt,
    assumed: null,
    frames: outlet.frames,
    skipped: skips.list(),
    clockSteps: outlet.clock.steps,
  }
}
