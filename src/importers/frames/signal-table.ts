import { z } from 'zod'
import { BOUNDS } from '../../../shared/bounds.ts'
import { openLogSource } from '../../bytes/file-source.ts'
import { type JsonKind, parseJsonText, textOf } from '../../bytes/json-file.ts'
import { LogError } from '../../errors.ts'
import { csvParse } from '../table/csv-parser.ts'
import { EXTENDED, type Field, identifierText, type Signal, type SignalTable } from './signal.ts'
import { checkSignals } from './signal-overlap.ts'
import { EXPECTED, signalRowSchema } from './signal-row.ts'
import { isSystemDescription, readSystemDescription } from './system-description/system-description.ts'

/** The last byte that any frame can hold: CAN FD carries 64. Source: ISO 11898-1. */
const LAST_BYTE = 63

const KIND: JsonKind = { code: 'signals', expected: 'a signal table' }

/**
 * Reads a signal table: JSON, CSV or an AUTOSAR system description, told apart by the bytes.
 * @throws LogError one sentence naming the row, what was found and what was expected
 */
export async function readSignalTable(path: string): Promise<SignalTable> {
  const source = await openLogSource(path)
  if (isSystemDescription(source.head)) {
    const { rows, bitRate, notes } = await readSystemDescription(source)
    return tableOf(source.name, rows, bitRate, notes)
  }
  const parts: Uint8Array[] = []
  let bytes = 0
  for await (const chunk of source.chunks()) {
    parts.push(chunk)
    bytes += chunk.length
    if (bytes > BOUNDS.jsonBytes)
      throw new LogError(
        'signals',
        `${source.name}: over ${BOUNDS.jsonBytes} bytes; a signal table was expected.`,
      )
  }
  const damage = source.damage()
  if (damage) throw new LogError('signals', `${source.name}: ${damage}; a whole signal table was expected.`)
  return parseSignalTable(source.name, Buffer.concat(parts))
}

/** @throws LogError as `readSignalTable` */
export function parseSignalTable(name: string, bytes: Uint8Array): SignalTable {
  const text = textOf(bytes).trim()
  const { rows, bitRate } = /^[[{]/.test(text) ? fromJson(name, text) : fromCsv(name, text)
  return tableOf(name, rows, bitRate)
}

function tableOf(
  name: string,
  rows: readonly unknown[],
  bitRate: number | null,
  notes: readonly string[] = [],
): SignalTable {
  if (rows.length === 0)
    throw new LogError('signals', `${name}: holds no signal; one row a signal was expected.`)
  if (rows.length > BOUNDS.signals)
    throw new LogError(
      'signals',
      `${name}: has ${rows.length} signals; at most ${BOUNDS.signals} were expected.`,
    )
  const signals = rows.map((row, at) => toSignal(name, row, at + 1))
  checkSignals(name, signals)
  return { name, signals, bitRate, notes }
}

function fromJson(name: string, text: string): { rows: unknown[]; bitRate: number | null } {
  const whole = parseJsonText(text, name, KIND)
  const table = Array.isArray(whole) ? { signals: whole } : (whole as Record<string, unknown>)
  if (!Array.isArray(table.signals))
    throw new LogError('signals', `${name}: has no list "signals"; { "signals": [ … ] } was expected.`)
  const rate = z.number().positive().optional().safeParse(table.bit_rate)
  if (!rate.success)
    throw new LogError('signals', `${name}: bit_rate is not a number above 0; bits per second were expected.`)
  return { rows: table.signals, bitRate: rate.data ?? null }
}

function fromCsv(name: string, text: string): { rows: unknown[]; bitRate: null } {
  const head = text.slice(0, text.search(/[\r\n]|$/))
  const delimiter = [';', '\t', ','].sort((a, b) => head.split(b).length - head.split(a).length)[0]!
  const known = new Set(Object.keys(signalRowSchema.shape))
  const plain = (field: string): string => {
    const word = field
      .trim()
      .replace(/([a-z])([A-Z])/g, '$1_$2')
      .toLowerCase()
      .replace(/[\s.-]+/g, '_')
    return known.has(word) ? word : ([...known].find((id) => id.replaceAll('_', '') === word) ?? word)
  }
  let records: Record<string, string>[]
  try {
    records = csvParse(text, {
      delimiter,
      columns: (header: string[]) => header.map(plain),
      skip_empty_lines: true,
      relax_column_count: true,
      comment: '#',
      trim: true,
    }) as typeof records
  } catch (error) {
    throw new LogError('signals', `${name}: not a sound CSV table (${(error as Error).message}).`)
  }
  const filled = (record: Record<string, string>) =>
    Object.fromEntries(Object.entries(record).filter(([, field]) => field !== ''))
  return { rows: records.map(filled), bitRate: null }
}

function toSignal(table: string, row: unknown, number: number): Signal {
  const parsed = signalRowSchema.safeParse(dropNulls(row))
  const named = (row as { name?: unknown } | null)?.name
  const label = typeof named === 'string' ? ` ("${named}")` : ''
  if (!parsed.success) {
    const issue = parsed.error.issues[0]!
    const field = String(issue.path[0] ?? 'row')
    const found = (row as Record<string, unknown> | null)?.[field]
    const is = found === undefined ? 'is missing' : `is ${JSON.stringify(found)}`
    throw new LogError(
      'signals',
      `${table}: row ${number}${label}: ${field} ${is}; ${EXPECTED[field] ?? issue.message} was expected.`,
    )
  }
  const data = parsed.data
  const bad = (what: string): LogError => new LogError('signals', `${table}: row ${number}${label}: ${what}.`)
  const extended = data.extended ?? data.identifier > 0x7ff
  if (!extended && data.identifier > 0x7ff)
    throw bad(`identifier ${identifierText(data.identifier)} has more than 11 bits but extended is false`)
  const field: Field = { startBit: data.start_bit, length: data.length, byteOrder: data.byte_order }
  if (lastByte(field) > LAST_BYTE)
    throw bad('the field runs past byte 63, the last one that any frame can hold')
  const selected = [data.selector_start_bit, data.selector_length, data.selector_value]
  const given = selected.filter((each) => each !== undefined).length
  if (given !== 0 && given !== 3)
    throw bad('selector_start_bit, selector_length and selector_value belong together; some are missing')
  let selector: Signal['selector'] = null
  if (given === 3) {
    const at: Field = { startBit: selected[0]!, length: selected[1]!, byteOrder: data.byte_order }
    if (lastByte(at) > LAST_BYTE) throw bad('the selector runs past byte 63')
    if (selected[2]! >= 2 ** at.length)
      throw bad(`selector_value ${selected[2]} needs more than ${at.length} bits`)
    selector = { field: at, value: selected[2]! }
  }
  const span = 2 ** data.length
  return {
    ...field,
    row: number,
    key: extended ? data.identifier | EXTENDED : data.identifier,
    node: data.node?.trim() || null,
    name: data.name,
    channel: data.channel || null,
    signed: data.signed,
    factor: data.factor,
    offset: data.offset,
    unit: data.unit || null,
    selector,
    invalid: (data.invalid ?? []).map((raw) => (data.signed && raw >= span / 2 ? raw - span : raw)),
    periodS: data.period_ms ? data.period_ms / 1000 : null,
  }
}

const dropNulls = (row: unknown): unknown =>
  typeof row === 'object' && row !== null
    ? Object.fromEntries(Object.entries(row).filter(([, field]) => field !== null))
    : row

/** Index of the last payload byte that the field touches. A big-endian field runs from its highest bit on. */
export function lastByte(field: Field): number {
  const { startBit, length } = field
  if (field.byteOrder === 'little') return (startBit + length - 1) >> 3
  return ((startBit >> 3) * 8 + (7 - (startBit & 7)) + length - 1) >> 3
}
