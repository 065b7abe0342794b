import { FD_FRAME, type FrameOutlet, type SkipCount } from '../frames/frame-sink.ts'
import type { IdentifierWords } from './identifier-order.ts'

/** LINKTYPE_CAN_SOCKETCAN. */
export const CAN_LINK_TYPE = 227

/** Source: the link-type page of tcpdump.org, from memory. */
const LINKS: Readonly<Record<number, string>> = {
  0: 'a loopback',
  1: 'Ethernet',
  105: 'a radio network',
  113: 'every interface at once',
  276: 'every interface at once',
  189: 'USB',
  220: 'USB',
  190: 'CAN in an older layout',
}

/** What such a capture holds, and the step that helps. */
export const linkAdvice = (type: number): string =>
  `: ${LINKS[type] ? `${type} is a capture of ${LINKS[type]}` : 'this one holds something else'}; capture on the CAN interface itself (can0)`

/** 2000-01-01 in seconds since 1970: a stamp before it is a clock that was never set. */
export const DATED_FROM = 946684800
/** The year 10 000, s: later ones have no date that can be written. */
export const DATED_UNTIL = 253_402_300_800

/**
 * One packet of link type 227 → the outlet, whose view is `bytes`.
 *
 *     octets 1-4  identifier and flags, big-endian     5  length    6  FD flags    7  reserved    8  raw length code
 *     octets 9-   payload
 *
 * The kind by the packet's original length: under 8 invalid; octet 5 & 0x80: XL; 72 long or octet 6 & 4: FD; else
 * classic (8 … 16). Source: the LINKTYPE_CAN_SOCKETCAN page of the link-layer types' list.
 */
export function takePacket(
  outlet: FrameOutlet,
  skips: SkipCount,
  ownS: number,
  bytes: DataView,
  at: number,
  captured: number,
  original: number,
  place: number,
  words: IdentifierWords,
): void {
  if (original < 8 || captured < 8) {
    skips.add('packets too short for a CAN frame', `byte ${place}`)
    return
  }
  const word = words.read(bytes, at)
  let length = bytes.getUint8(at + 4)
  const flags = bytes.getUint8(at + 5)
  if ((length & 0x80) !== 0) {
    skips.add('XL frames', `byte ${place}`)
    return
  }
  const fd = original === 72 || (flags & FD_FRAME) !== 0
  if (original > (fd ? 72 : 16) || length > (fd ? 64 : 8)) {
    skips.add('packets too long for their kind of CAN frame', `byte ${place}`)
    return
  }
  if (length > captured - 8) {
    if ((word & 0x40000000) === 0) skips.add('frames that the capture cut short', `byte ${place}`)
    length = captured - 8
  }
  if ((word & 0x20000000) !== 0) {
    outlet.error(ownS, word & 0x1fffffff, bytes, at + 8, length)
    return
  }
  const key = (word & 0x80000000) !== 0 ? word & 0x9fffffff : word & 0x7ff
  if (!fd && (word & 0x40000000) !== 0) outlet.remote(ownS, key, bytes.getUint8(at + 4))
  else outlet.data(ownS, key, fd ? flags | FD_FRAME : 0, at + 8, length)
}
