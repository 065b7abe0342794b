import type { RawLog } from '../../../shared/raw-log.ts'
import type { LogSource } from '../../bytes/file-source.ts'
import { LogError } from '../../errors.ts'
import { type FrameReader, readFrameLog } from '../frames/frame-log.ts'
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
/** Bytes of a block without a body, and the fewest of each kind. */
const EMPTY_BLOCK = 12
const LEAST_SECTION = 28
const LEAST_INTERFACE = 20
const LEAST_SIMPLE = 16
const LEAST_PACKET = 32
/** Blocks whose inside is read are never longer, save for options that do not matter. */
const LONGEST = 4096
/** An enhanced packet's header and the longest frame: all that is looked at. */
const PACKET_LOOK = 28 + 80

export const isPcapng = (head: Uint8Array): boolean =>
  head.length >= EMPTY_BLOCK && new DataView(head.buffer, head.byteOffset).getUint32(0) === SECTION

/** A pcapng capture. Source: draft-ietf-opsawg-pcapng. */
export function readPcapng(source: LogSource, options: ImportOptions): Promise<RawLog> {
  return readFrameLog(source, options, 'pcapng', pcapngReader)
}

export const pcapngReader: FrameReader = (log) => inItsOrder(log, walkPcapng)

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
  const outlet = new FrameOutlet(sink)
  const walk = new Walk(source.name, outlet, words)
  const left = await walkRecords(source, LONGEST, outlet, (view, from, end, fileOffset) =>
    walk.blocks(view, from, end, fileOffset),
  )
  return walk.report(left)
}

/** A block that cannot be: the byte where it shows, and what stands there. */
class Impossible extends Error {
  readonly place: number
  constructor(place: number, what: string) {
    super(what)
    this.place = place
  }
}

/** `block` returns it where the block goes on beyond the bytes at hand. */
const MORE = -1

/** Where the walk stands: the section's byte order and interfaces, and what was met so far. */
class Walk {
  readonly #name: string
  readonly #outlet: FrameOutlet
  readonly #words: IdentifierWords
  readonly #skips = new SkipCount()
  readonly #clock = new CaptureClock()
  #sections = 0
  #little = true
  #interfaces: Interface[] = []
  /** Interfaces of CAN frames, in all sections; and the link type of the first one of something else, or −1. */
  #canInterfaces = 0
  #firstOther = -1
  #lastS = 0

  constructor(name: string, outlet: FrameOutlet, words: IdentifierWords) {
    this.#name = name
    this.#outlet = outlet
    this.#words = words
  }

  /** Takes the blocks that begin before `end`, as `walkRecords` asks of its `read`. */
  blocks(view: DataView, from: number, end: number, fileOffset: number): number {
    let at = from
    try {
      while (at < end) {
        const length = this.#block(view, at, fileOffset + at)
        if (length === MORE) return at
        at += length
      }
      return at
    } catch (error) {
      if (!(error instanceof Impossible)) throw error
      const where = `byte ${error.place}: ${error.message}`
      if (this.#sections === 0)
        throw new LogError('pcapng', `${this.#name}: ${where}; a pcapng section was expected.`)
      this.#skips.add('rest of the capture', where)
      return -1
    }
  }

  /** One block: its head and its length, stated twice, then its inside. @returns its length, or MORE */
  #block(view: DataView, at: number, place: number): number {
    if (at + EMPTY_BLOCK > view.byteLength) return MORE
    if (view.getUint32(at) === SECTION) this.#little = byteOrderOf(view, at + 8, place + 8)
    else if (this.#sections === 0) throw new Impossible(place, 'no section header')
    const type = view.getUint32(at, this.#little)
    const length = view.getUint32(at + 4, this.#little)
    if (length < EMPTY_BLOCK || length % 4 !== 0 || (type === SECTION && length < LEAST_SECTION))
      throw new Impossible(place + 4, `a block of ${length} bytes cannot be`)
    const need = Math.min(length, looksAt(type))
    if (at + need > view.byteLength) return MORE
    const whole = at + length <= view.byteLength
    if (isRead(type) && whole && view.getUint32(at + length - 4, this.#little) !== length)
      throw new Impossible(
        place + length - 4,
        `a block's length is ${length} at its start but not at its end`,
      )
    if (type === SECTION) this.#beginSection(view, at, place)
    else if (type === INTERFACE) {
      if (length < LEAST_INTERFACE)
        throw new Impossible(place + 4, `an interface block of ${length} bytes cannot be`)
      this.#addInterface(readInterface(view, at + 8, at + need - 4, this.#little))
    } else if (isPacket(type)) {
      if (length < (type === SIMPLE_PACKET ? LEAST_SIMPLE : LEAST_PACKET))
        throw new Impossible(place + 4, `a packet block of ${length} bytes cannot be`)
      this.#packet(view, at + 8, type, length - EMPTY_BLOCK, place)
    }
    return length
  }

  #beginSection(view: DataView, at: number, place: number): void {
    const version = view.getUint16(at + 12, this.#little)
    if (version !== 1) throw new Impossible(place + 12, `version ${version} of the format; 1 was expected`)
    this.#interfaces = []
    this.#sections++
  }

  #addInterface(found: Interface): void {
    if (found.linkType === CAN_LINK_TYPE) this.#canInterfaces++
    else if (this.#firstOther < 0) this.#firstOther = found.linkType
    this.#interfaces.push(found)
  }

  /** A packet block's body of `body` bytes at `at`: simple ones carry no time and belong to the first interface. */
  #packet(view: DataView, at: number, type: number, body: number, place: number): void {
    const little = this.#little
    const skips = this.#skips
    const simple = type === SIMPLE_PACKET
    const number = simple ? 0 : type === OLD_PACKET ? view.getUint16(at, little) : view.getUint32(at, little)
    const from = this.#interfaces[number]
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
    if (simple) skips.add('packets without a time, taken at the last time before them', `byte ${place}`)
    else this.#lastS = this.#clock.ownS(from, view.getUint32(at + 4, little), view.getUint32(at + 8, little))
    takePacket(this.#outlet, skips, this.#lastS, view, at + head, stated, original, place, this.#words)
  }

  /** What was walked. @param left bytes of a last block that the capture's end cut off */
  report({ left, at }: { readonly left: number; readonly at: number }): WalkReport {
    if (left > 0 && this.#sections === 0)
      throw new LogError(
        'pcapng',
        `${this.#name}: ends after ${left} bytes, inside its first section header.`,
      )
    if (left > 0) this.#skips.add('a block cut off by the end of the capture', `byte ${at}`)
    const other = this.#firstOther
    if (this.#canInterfaces === 0 && other >= 0)
      throw new LogError(
        'pcapng',
        `${this.#name}: link type ${other}; ${CAN_LINK_TYPE} (CAN frames) was expected${linkAdvice(other)}.`,
      )
    return {
      startedAt: this.#clock.startedAt,
      assumed: null,
      frames: this.#outlet.frames,
      skipped: this.#skips.list(),
      clockSteps: this.#outlet.clock.steps,
    }
  }
}

/** Does the section whose byte-order mark stands at `at` count from the little end? */
function byteOrderOf(view: DataView, at: number, place: number): boolean {
  const magic = view.getUint32(at, true)
  if (magic !== BYTE_ORDER && view.getUint32(at) !== BYTE_ORDER)
    throw new Impossible(place, `byte-order mark 0x${magic.toString(16)} is none`)
  return magic === BYTE_ORDER
}

const isPacket = (type: number): boolean =>
  type === ENHANCED_PACKET || type === SIMPLE_PACKET || type === OLD_PACKET

/** Blocks whose inside is read; the others are stepped over. */
const isRead = (type: number): boolean => isPacket(type) || type === SECTION || type === INTERFACE

/** The most bytes of such a block that are looked at. */
const looksAt = (type: number): number =>
  isPacket(type) ? PACKET_LOOK : isRead(type) ? LONGEST : EMPTY_BLOCK
