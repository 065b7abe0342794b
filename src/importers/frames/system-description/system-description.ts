import type { LogSource } from '../../../bytes/file-source.ts'
import { Description, type Mapped, type Multiplexed } from './description.ts'
import { readElements } from './read-elements.ts'

/** Rows as of a signal table in JSON, and what could not be said in one. */
export interface SystemDescription {
  readonly rows: readonly Record<string, unknown>[]
  readonly bitRate: number | null
  readonly notes: readonly string[]
}

export const isSystemDescription = (head: Uint8Array): boolean =>
  /^(\ufeff|ï»¿)?\s*(<\?xml|<!--|<(\w+:)?AUTOSAR)/.test(Buffer.from(head.subarray(0, 512)).toString('latin1'))

/**
 * An AUTOSAR system description (ARXML, schemas r4.0 and later of the 4 series) as a signal table.
 *
 *     frame triggering ─► frame ─► PDU mappings ─► I-signal-I-PDU ─► I-signal mappings ─► I-signal ─► compu method, unit
 *                                              └─► multiplexed PDU ─► static part, alternatives by selector code
 *
 * Read: identifier and addressing mode, start positions, byte orders, lengths, linear and rational (one numerator line,
 * constant denominator) scales, raw values that stand for words (they are no number), base type's sign, units, invalid
 * values, cyclic periods, senders by frame ports. Init values say nothing of a frame that came, and are not used.
 * Left out, said in `notes`: scales with different lines, floating point, container and secured PDUs, end-to-end
 * protection, several clusters told apart.
 * Source: AUTOSAR TPS System Template, from memory; start positions: `shared/checks.md` S1.
 */
export async function readSystemDescription(source: LogSource): Promise<SystemDescription> {
  const description = new Description()
  const { bitRate } = await readElements(source, (kept) => description.take(kept))
  const notes = new Map<string, number>()
  const note = (what: string): void => void notes.set(what, (notes.get(what) ?? 0) + 1)
  const rows = description.triggerings.flatMap((triggering) => {
    const frame = description.frames.get(triggering.frame)
    if (!frame) {
      note('frame triggerings without their frame')
      return []
    }
    const node = triggering.ports
      .map((port) => description.senders.get(port))
      .find((ecu) => ecu !== undefined)
    const base = {
      identifier: triggering.identifier,
      extended: triggering.extended,
      ...(node === undefined ? {} : { node }),
    }
    return frame.pdus.flatMap((pdu) =>
      rowsOfPdu(description, pdu.ref, 8 * Math.floor(pdu.start / 8), null, note).map((row) => ({
        ...base,
        ...row,
        name: `${frame.name}.${row.name}`,
      })),
    )
  })
  return { rows: shortNames(rows), bitRate, notes: [...notes].map(([what, n]) => `${what}: ${n}.`) }
}

type Row = Record<string, unknown> & { readonly name: string }
type Chosen = {
  readonly selector: Multiplexed['selector']
  readonly at: number
  readonly code: number
} | null

function rowsOfPdu(
  description: Description,
  path: string,
  at: number,
  chosen: Chosen,
  note: (what: string) => void,
): Row[] {
  const many = description.multiplexed.get(path)
  if (many && !chosen)
    return [
      ...many.fixed.flatMap((pdu) => rowsOfPdu(description, pdu, at, null, note)),
      ...many.chosen.flatMap(({ pdu, code }) =>
        rowsOfPdu(description, pdu, at, { selector: many.selector, at, code }, note),
      ),
    ]
  const pdu = description.pdus.get(path)
  if (!pdu) {
    note('PDUs of other kinds than signals, left out')
    return []
  }
  return pdu.signals.flatMap((mapping) => {
    const row = rowOf(description, mapping, at, chosen, note)
    return row ? [{ ...row, ...(pdu.periodS === null ? {} : { period_ms: 1000 * pdu.periodS }) }] : []
  })
}

function rowOf(
  description: Description,
  mapping: Mapped,
  at: number,
  chosen: Chosen,
  note: (what: string) => void,
): Row | null {
  const signal = description.signals.get(mapping.ref)
  // groups are mapped beside their members: only signals with bits count
  if (!signal || signal.length === 0) return null
  if (signal.length > 64) {
    note('signals of over 64 bits, left out')
    return null
  }
  const system = signal.system === null ? undefined : description.systemSignals.get(signal.system)
  const encoding = description.baseTypes.get(signal.baseType ?? system?.baseType ?? '') ?? 'NONE'
  if (encoding === 'IEEE754') {
    note('floating-point signals, left out')
    return null
  }
  const method = description.methods.get(signal.method ?? system?.method ?? '')
  if (method?.many) note('signals whose scale changes along the range, kept as raw numbers')
  const line = method?.many ? null : method?.line
  const unit = description.units.get(signal.unit ?? system?.unit ?? method?.unit ?? '')
  const invalid = [
    ...(line ? (method?.words ?? []) : []),
    ...[signal.invalid ?? system?.invalid ?? []].flat(),
  ]
  const selector = chosen && selectorOf(chosen, mapping.order)
  if (chosen && !selector) note('signals whose selector is read in the other byte order, left out')
  if (chosen && !selector) return null
  return {
    name: signal.name,
    start_bit: at + mapping.start,
    length: signal.length,
    byte_order: mapping.order,
    signed: encoding === '2C',
    factor: line?.factor ?? 1,
    offset: line?.offset ?? 0,
    ...(unit === undefined ? {} : { unit }),
    ...(invalid.length > 0 ? { invalid } : {}),
    ...selector,
  }
}

/** A signal table reads a selector in its signal's byte order: within one byte, and over whole bytes, it can be said so. */
function selectorOf({ selector, at, code }: NonNullable<Chosen>, order: 'little' | 'big') {
  const { start, length } = selector
  const low = selector.order === 'little' ? start & 7 : (start & 7) - length + 1
  if (selector.order !== order && (low < 0 || low + length > 8)) return null
  const turned = selector.order === order ? start : order === 'big' ? start + length - 1 : start - length + 1
  return { selector_start_bit: at + turned, selector_length: length, selector_value: code }
}

/** Signals by their own names where those are unique, else with the frame before them. */
function shortNames(rows: readonly Row[]): Row[] {
  const own = (name: string): string => name.slice(name.indexOf('.') + 1)
  const counts = new Map<string, number>()
  for (const { name } of rows)
    counts.set(own(name).toLowerCase(), (counts.get(own(name).toLowerCase()) ?? 0) + 1)
  return rows.map((row) =>
    counts.get(own(row.name).toLowerCase()) === 1 ? { ...row, name: own(row.name) } : row,
  )
}
