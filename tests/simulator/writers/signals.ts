import { catalogueEntry } from '../../../shared/channels.ts'
import type { Samples } from '../measure.ts'
import { columnName, type NameStyle } from './names.ts'

/** A row of the signal table, keys as in the contract. */
export interface Signal {
  readonly identifier: string
  readonly extended: boolean
  readonly node: string
  readonly name: string
  readonly channel?: string
  readonly start_bit: number
  readonly length: number
  readonly byte_order: 'little' | 'big'
  readonly signed: boolean
  readonly factor: number
  readonly offset: number
  readonly unit: string
  readonly selector_start_bit?: number
  readonly selector_length?: number
  readonly selector_value?: number
  readonly period_ms?: number
}

/** A frame that carries some channels of one reading. */
export interface Message {
  readonly identifier: number
  readonly extended: boolean
  readonly bytes: number
  readonly signals: readonly Signal[]
  readonly samples: readonly Samples[]
  /** First byte, where cells share an identifier. */
  readonly selector: number | null
}

export interface BusDialect {
  readonly names: NameStyle
  /** Channel ids in the table; else the names must tell. */
  readonly withChannels: boolean
  readonly extended: boolean
  readonly bigEndianNodes: readonly string[]
  /** Cells: one identifier, first byte the selector, three cells a frame. */
  readonly multiplexCells: boolean
}

interface Place {
  readonly bits: number
  readonly signed: boolean
  readonly factor: number
}

/** Switches 1 bit, codes 8 or 16, the rest 16 bits in steps of the reading. */
function placeOf(samples: Samples): Place {
  const kind = catalogueEntry(samples.id)?.kind ?? 'number'
  if (kind === 'switch') return { bits: 1, signed: false, factor: 1 }
  if (samples.id === 'selector') return { bits: 3, signed: true, factor: 1 }
  if (kind === 'code') return { bits: samples.id.endsWith('faults') ? 16 : 8, signed: false, factor: 1 }
  const low = catalogueEntry(samples.id)?.range[0] ?? -1
  return { bits: 16, signed: low < 0, factor: samples.reading.step ?? 0.1 }
}

/** First bit behind a signal placed at or after `bit`: a signal of a byte or more begins on a byte. */
function after(bit: number, bits: number): number {
  return (bits >= 8 ? Math.ceil(bit / 8) * 8 : bit) + bits
}

/** Packs readings into frames of up to 8 bytes: bytes are filled in order; switches share bytes. */
export function messagesOf(samples: readonly Samples[], dialect: BusDialect): Message[] {
  const groups = new Map<unknown, Samples[]>()
  for (const each of samples) {
    const group = groups.get(each.reading)
    if (group) group.push(each)
    else groups.set(each.reading, [each])
  }
  const messages: Message[] = []
  const base: Record<string, number> = dialect.extended
    ? { battery: 0x18f00300, vehicle: 0x18f00100, inverter: 0x18f00200 }
    : { battery: 0x301, vehicle: 0x181, inverter: 0x221 }
  const used: Record<string, number> = {}
  const take = (node: string): number => base[node]! + (used[node] = (used[node] ?? -1) + 1)
  for (const group of groups.values()) {
    const node = group[0]!.reading.node ?? 'vehicle'
    const cells = group[0]!.id.startsWith('cell_voltage.') && dialect.multiplexCells
    const shared = cells ? take(node) : 0
    const startBits = cells ? 8 : 0
    for (let at = 0, turn = 0; at < group.length; turn++) {
      let bits = startBits
      let to = at
      while (to < group.length && (bits = after(bits, placeOf(group[to]!).bits)) <= 64) to++
      const part = group.slice(at, to)
      messages.push(message(part, cells ? shared : take(node), node, startBits, cells ? turn : null, dialect))
      at = to
    }
  }
  return messages
}

function message(
  samples: readonly Samples[],
  identifier: number,
  node: string,
  startBits: number,
  selector: number | null,
  dialect: BusDialect,
): Message {
  const big = dialect.bigEndianNodes.includes(node)
  let bit = startBits
  const signals = samples.map((each): Signal => {
    const place = placeOf(each)
    bit = after(bit, place.bits)
    const from = bit - place.bits
    // Big-endian: the start is the highest bit, of a byte or more bit 7 of the first byte.
    const startBit = big && place.bits >= 8 ? from + 7 : big ? from + place.bits - 1 : from
    return {
      identifier: `0x${identifier.toString(16).toUpperCase()}`,
      extended: dialect.extended,
      node,
      name: columnName(each.id, dialect.names),
      ...(dialect.withChannels ? { channel: each.id } : {}),
      start_bit: startBit,
      length: place.bits,
      byte_order: big ? 'big' : 'little',
      signed: place.signed,
      factor: place.factor,
      offset: 0,
      unit: catalogueEntry(each.id)?.unit ?? '',
      ...(selector === null
        ? {}
        : { selector_start_bit: big ? 7 : 0, selector_length: 8, selector_value: selector }),
      period_ms: 1000 / each.reading.rateHz,
    }
  })
  return { identifier, extended: dialect.extended, bytes: Math.ceil(bit / 8), signals, samples, selector }
}

/** The signal table as JSON or CSV. */
export function signalTable(messages: readonly Message[], form: 'json' | 'csv'): string {
  const signals = messages.flatMap((each) => each.signals)
  if (form === 'json') return `${JSON.stringify({ signals }, null, 1)}\n`
  const keys = [
    'identifier',
    'extended',
    'node',
    'name',
    'channel',
    'start_bit',
    'length',
    'byte_order',
    'signed',
    'factor',
    'offset',
    'unit',
    'selector_start_bit',
    'selector_length',
    'selector_value',
    'period_ms',
  ] as const
  const rows = signals.map((signal) => keys.map((key) => String(signal[key] ?? '')).join(','))
  return `${[keys.join(','), ...rows].join('\n')}\n`
}
