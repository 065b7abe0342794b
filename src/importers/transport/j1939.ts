import type { TransportGap } from './iso-tp.ts'

/**
 * A 29-bit identifier's parts: priority 28–26, reserved 25, data page 24, format 23–16, specific 15–8, source 7–0. Under
 * format 240 the specific byte is the destination and no part of the group.
 * Source: SAE J1939-21; Linux Documentation/networking/j1939.rst (`shared/checks.md` S2).
 */
export interface J1939Identifier {
  readonly priority: number
  /** Parameter group number. */
  readonly group: number
  readonly source: number
  /** null: to everybody. */
  readonly destination: number | null
}

export function splitJ1939(identifier: number): J1939Identifier {
  const format = (identifier >>> 16) & 0xff
  const specific = (identifier >>> 8) & 0xff
  const page = (identifier >>> 24) & 3
  const directed = format < 240
  return {
    priority: (identifier >>> 26) & 7,
    group: (page << 16) | (format << 8) | (directed ? 0 : specific),
    source: identifier & 0xff,
    destination: directed && specific !== 0xff ? specific : null,
  }
}

export const TRANSFER_CONTROL = 60416
export const TRANSFER_DATA = 60160

/** A message of up to 1785 bytes, put together from its packets. */
export interface J1939Message {
  readonly atS: number
  readonly endS: number
  readonly group: number
  readonly source: number
  readonly destination: number | null
  readonly bytes: Uint8Array
}

interface Transfer {
  readonly atS: number
  readonly group: number
  readonly length: number
  readonly packets: number
  readonly bytes: Uint8Array
  readonly came: Uint8Array
  /** Broadcast: packets are never asked for again. */
  readonly broadcast: boolean
  lastS: number
}

/** Between packets of a broadcast, and of a directed transfer (T1, T2). Source: SAE J1939-21, from memory. */
const TIMEOUT_S = 1.25

/**
 * Broadcast (control byte 32) and directed transfer (16 request, 17 go on, 19 received, 255 given up), listened to:
 * bytes 2–3 the size, 4 the packets, 6–8 the group; packets carry their number 1 … 255 and seven bytes.
 * Source: SAE J1939-21 (`shared/checks.md` S3; control bytes 16, 17, 19, 255 from memory).
 */
export class J1939Reader {
  readonly messages: J1939Message[] = []
  readonly gaps: TransportGap[] = []
  readonly #open = new Map<string, Transfer>()

  frame(atS: number, identifier: number, data: Uint8Array): void {
    const { group, source, destination } = splitJ1939(identifier)
    if (group === TRANSFER_CONTROL) this.#control(atS, source, destination, data)
    else if (group === TRANSFER_DATA) this.#packet(atS, source, destination, data)
  }

  end(): void {
    for (const [name, transfer] of this.#open)
      this.#broken(name, transfer, transfer.lastS, 'the capture ended')
  }

  #control(atS: number, source: number, destination: number | null, data: Uint8Array): void {
    const control = data[0]
    if (data.length < 8) return
    if (control === 255) {
      // given up by either side
      for (const name of [nameOf(source, destination), nameOf(destination, source)]) {
        const open = this.#open.get(name)
        if (open) this.#broken(name, open, atS, 'given up')
      }
      return
    }
    if (control !== 16 && control !== 32) return
    const name = nameOf(source, destination)
    const earlier = this.#open.get(name)
    if (earlier) this.#broken(name, earlier, atS, 'another transfer began')
    const length = data[1]! | (data[2]! << 8)
    const packets = data[3]!
    const group = data[5]! | (data[6]! << 8) | (data[7]! << 16)
    if (length < 9 || length > 1785 || packets !== Math.ceil(length / 7)) {
      this.gaps.push({ atS, what: `a transfer of ${length} bytes in ${packets} packets cannot be` })
      return
    }
    this.#open.set(name, {
      atS,
      group,
      length,
      packets,
      bytes: new Uint8Array(packets * 7),
      came: new Uint8Array(packets),
      broadcast: control === 32,
      lastS: atS,
    })
  }

  #packet(atS: number, source: number, destination: number | null, data: Uint8Array): void {
    const name = nameOf(source, destination)
    const open = this.#open.get(name)
    if (!open) {
      this.gaps.push({ atS, what: 'a packet of a transfer whose beginning was not heard' })
      return
    }
    if (atS - open.lastS > TIMEOUT_S) {
      this.#broken(name, open, atS, 'packets stopped')
      return
    }
    const number = data[0]!
    if (number < 1 || number > open.packets) {
      this.#broken(name, open, atS, `packet ${number} cannot be`)
      return
    }
    open.bytes.set(data.subarray(1, 8), (number - 1) * 7)
    open.came[number - 1] = 1
    open.lastS = atS
    if (!open.came.every((came) => came === 1)) {
      if (open.broadcast && number === open.packets) this.#broken(name, open, atS, 'packets are missing')
      return
    }
    this.#open.delete(name)
    this.messages.push({
      atS: open.atS,
      endS: atS,
      group: open.group,
      source,
      destination,
      bytes: open.bytes.slice(0, open.length),
    })
  }

  #broken(name: string, open: Transfer, atS: number, why: string): void {
    const came = open.came.reduce((sum, each) => sum + each, 0)
    this.gaps.push({ atS, what: `group ${open.group}: ${came} of ${open.packets} packets: ${why}` })
    this.#open.delete(name)
  }
}

const nameOf = (source: number | null, destination: number | null): string => `${source}>${destination}`
