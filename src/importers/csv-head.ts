import { parse } from 'csv-parse/sync'
import { isUnit } from '../../shared/units.ts'
import { LogError } from '../errors.ts'
import { readField } from './field-text.ts'
import { headerUnit } from './header-unit.ts'
import { decodeText, type TextForm, textForm } from './text-bytes.ts'
import { isTimeText } from './time-text.ts'

/** How a CSV is written, found from its head. */
export interface CsvHead {
  readonly form: TextForm
  readonly delimiter: string
  readonly decimal: '.' | ','
  /** Per column, where a column is written otherwise than the file. */
  readonly decimals: readonly ('.' | ',')[]
  readonly newline: '\n' | '\r'
  /** Header names as written, trimmed. */
  readonly header: readonly string[]
  /** Unit beside or in each name; null where none is. */
  readonly units: readonly (string | null)[]
  /** Line of the header and of the first row of values, counted from 1. */
  readonly headerLine: number
  readonly firstLine: number
  /** Lines before the header. */
  readonly preamble: readonly string[]
  /** Rows of values in the head, to judge columns by. */
  readonly sample: readonly (readonly string[])[]
  /** Words that stand for an empty field throughout the file. */
  readonly emptyWords: ReadonlySet<string>
  /** Trailing empty fields are left out: short rows are whole. */
  readonly ragged: boolean
}

interface HeadRecord {
  readonly fields: readonly string[]
  /** Line on which it begins. */
  readonly line: number
}

/** Options under which csv-parse is the reference for splitting records. */
export const SPLIT = { relax_quotes: true, relax_column_count: true, skip_empty_lines: false } as const

const DELIMITERS = [';', '\t', ',', '|']
const RECORDS = 300
/** The dialect is told by this much text, and by thirty lines at least. */
const ENOUGH_CHARACTERS = 1 << 16

/** @throws LogError where the head holds no rows of numbers under a header */
export function readCsvHead(head: Uint8Array, name: string): CsvHead {
  const form = textForm(head, name)
  let text = decodeText(head.subarray(form.markBytes), form.encoding)
  const newline = !text.includes('\n') && text.includes('\r') ? '\r' : '\n'
  const lastBreak = text.lastIndexOf(newline)
  const breaks = lastBreak >= 0
  if (head.length >= 1 << 18) {
    if (!breaks)
      throw new LogError(
        'line-too-long',
        `${name}: line 1 is longer than ${head.length} bytes; a header and rows of values were expected.`,
      )
    text = text.slice(0, lastBreak + 1)
  }
  const stated = /^"?sep=(.)"?\s*[\r\n]/i.exec(text)?.[1]
  let best: { delimiter: string; table: Table; score: number } | null = null
  const lines = firstLines(text, newline)
  for (const delimiter of stated ? [stated] : DELIMITERS) {
    if (!lines.includes(delimiter)) continue
    const table = findTable(recordsOf(lines, delimiter, newline), delimiter)
    const score = table ? table.clean * Math.log2(table.columns) : 0
    if (table && (best === null || score > best.score * 1.02)) best = { delimiter, table, score }
  }
  if (!best) throw new LogError('no-rows', noRows(text, name, newline))
  const { table, delimiter } = best
  const { header, units } = namesAndUnits(table)
  const sample = table.rows.map((row) => row.fields)
  const decimals = header.map((_, c) => decimalOf(sample, c, table.decimal))
  return {
    form,
    delimiter,
    decimal: table.decimal,
    decimals,
    newline,
    header,
    units,
    headerLine: table.header.line,
    firstLine: table.rows[0]!.line,
    preamble: text
      .split(newline)
      .slice(0, table.header.line - 1)
      .map((line) => line.trim()),
    sample,
    emptyWords: emptyWords(sample),
    ragged: sample.filter((row) => row.length < table.columns).length > 0.2 * sample.length,
  }
}

function firstLines(text: string, newline: string): string {
  let end = 0
  for (let line = 0; line < RECORDS && end >= 0; line++) {
    if (line >= 30 && end > ENOUGH_CHARACTERS) break
    end = text.indexOf(newline, end) + 1
    if (end === 0) return text
  }
  return text.slice(0, end)
}

function recordsOf(text: string, delimiter: string, newline: string): HeadRecord[] {
  let rows: { record: string[]; info: { lines: number } }[]
  try {
    rows = parse(text, {
      ...SPLIT,
      delimiter,
      info: true,
      to: RECORDS,
      ...(newline === '\r' ? { record_delimiter: '\r' } : {}),
    }) as unknown as typeof rows
  } catch {
    return recordsByLine(text, delimiter, newline)
  }
  let line = 1
  return rows.map(({ record, info }) => {
    const begins = line
    line = Math.max(line + 1, info.lines)
    return { fields: record, line: begins }
  })
}

/** A quote that is never closed spoils its own line only. */
function recordsByLine(text: string, delimiter: string, newline: string): HeadRecord[] {
  return text
    .split(newline)
    .slice(0, RECORDS)
    .flatMap((line, at) => {
      try {
        const [fields] = parse(line.replace(/\r$/, ''), { ...SPLIT, delimiter }) as string[][]
        return fields ? [{ fields, line: at + 1 }] : []
      } catch {
        return []
      }
    })
}

interface Table {
  readonly header: HeadRecord
  readonly unitRow: HeadRecord | null
  readonly rows: readonly HeadRecord[]
  readonly columns: number
  readonly decimal: '.' | ','
  /** Share of value fields that read as number, time, word or nothing. */
  readonly clean: number
}

/** The run of rows of one width that ends the head, and the words above it. */
function findTable(records: readonly HeadRecord[], delimiter: string): Table | null {
  const filled = records.filter(({ fields }) => fields.some((field) => field.trim() !== ''))
  const widths = new Map<number, number>()
  for (const { fields } of filled.slice(Math.min(filled.length >> 1, 30)))
    widths.set(fields.length, (widths.get(fields.length) ?? 0) + 1)
  const [columns] = [...widths.entries()].sort((a, b) => b[1] - a[1] || b[0] - a[0])[0] ?? [0]
  if (columns < 2) return null
  const decimal = delimiter === ',' && !filled.some(quotedComma) ? '.' : fileDecimal(filled)
  const isValues = ({ fields }: HeadRecord): boolean => {
    if (fields.length < 2 || fields.length > columns + 1) return false
    const said = fields.filter((field) => field.trim() !== '')
    const values = said.filter((field) => isTimeText(field) || isNumberLike(field, decimal))
    return values.length >= 2 && values.length >= 0.34 * said.length
  }
  const firstValues = filled.findIndex(
    (record, at) => isValues(record) && (at + 1 >= filled.length || isValues(filled[at + 1]!)),
  )
  if (firstValues < 1) return null
  const above = filled.slice(0, firstValues).filter(({ fields }) => Math.abs(fields.length - columns) <= 1)
  const unitRow =
    above.length > 1 && looksLikeUnits(above[above.length - 1]!) ? above[above.length - 1]! : null
  const named = unitRow ? above.slice(0, -1) : above
  if (named.length === 0) return null
  // Of several rows of words (group, name, remark), the one with most different names is the header.
  const header = named.reduce((most, each) => (distinct(each) > distinct(most) ? each : most))
  const rows = filled.slice(firstValues)
  let clean = 0
  let said = 0
  for (const { fields } of rows)
    for (const field of fields) {
      if (field.trim() === '') continue
      said++
      if (isTimeText(field) || isNumberLike(field, decimal) || /^[^,;\t|\d][^,;\t|]*$/.test(field.trim()))
        clean++
    }
  return {
    header,
    unitRow,
    rows,
    columns: Math.max(columns, trimmedWidth(header)),
    decimal,
    clean: clean / Math.max(1, said),
  }
}

const distinct = ({ fields }: HeadRecord): number =>
  new Set(fields.map((field) => field.trim()).filter(Boolean)).size

function trimmedWidth({ fields }: HeadRecord): number {
  let width = fields.length
  while (width > 0 && fields[width - 1]!.trim() === '') width--
  return width
}

function isNumberLike(field: string, decimal: '.' | ','): boolean {
  const { kind } = readField(field, decimal, NONE)
  return kind === 'number' || kind === 'missing'
}
const NONE: ReadonlySet<string> = new Set()

function looksLikeUnits({ fields }: HeadRecord): boolean {
  const said = fields
    .map((field) => field.trim().replace(/^[[(<](.*)[\])>]$/, '$1'))
    .filter((field) => field !== '')
  if (said.length === 0) return fields.length > 2
  return said.filter((field) => isUnit(field) || isTimePattern(field)).length >= 0.6 * said.length
}

/** `HH:MM:SS.fff`, `yyyy-mm-dd` in a units row. */
const isTimePattern = (field: string): boolean => /^[yYmMdDhHsSfF:.\-/ T]{4,}$/.test(field)

const quotedComma = ({ fields }: HeadRecord): boolean =>
  fields.some((field) => /^\s*[+-]?\d+,\d+\s*$/.test(field))

/** The file's decimal sign: the one that more number fields carry. */
function fileDecimal(records: readonly HeadRecord[]): '.' | ',' {
  let commas = 0
  let points = 0
  for (const { fields } of records)
    for (const field of fields) {
      if (/^\s*[+-]?\d*,\d+\s*$/.test(field)) commas++
      else if (/^\s*[+-]?\d*\.\d+\s*$/.test(field)) points++
    }
  return commas > points ? ',' : '.'
}

/** A column that always uses the other sign, not as a mark between thousands, has its own. */
function decimalOf(sample: readonly (readonly string[])[], c: number, decimal: '.' | ','): '.' | ',' {
  const other = decimal === '.' ? ',' : '.'
  let own = 0
  let others = 0
  let ungrouped = 0
  for (const row of sample) {
    const field = row[c]?.trim() ?? ''
    if (!/^[+-]?\d*[.,]\d+$/.test(field)) continue
    if (field.includes(decimal)) own++
    else {
      others++
      if (!/^[+-]?[1-9]\d{0,2}[.,]\d{3}$/.test(field)) ungrouped++
    }
  }
  return own === 0 && others > 0 && ungrouped > 0 ? other : decimal
}

/** "No value" words that fill a fifth of some column: they stand where others leave the field empty. */
function emptyWords(sample: readonly (readonly string[])[]): Set<string> {
  const words = new Set<string>()
  const width = Math.max(...sample.map((row) => row.length))
  for (let c = 0; c < width; c++) {
    const counts = new Map<string, number>()
    for (const row of sample)
      if (row[c] !== undefined && readField(row[c]!, '.', NONE).kind === 'missing') {
        const word = row[c]!.trim().toLowerCase()
        counts.set(word, (counts.get(word) ?? 0) + 1)
      }
    for (const [word, count] of counts)
      if (count >= 0.2 * sample.length && sample.length >= 5) words.add(word)
  }
  return words
}

function namesAndUnits(table: Table): { header: string[]; units: (string | null)[] } {
  const header: string[] = []
  const units: (string | null)[] = []
  for (let c = 0; c < table.columns; c++) {
    const name = (table.header.fields[c] ?? '').trim().replace(/^\ufeff/, '')
    const below = table.unitRow?.fields[c]?.trim().replace(/^[[(<](.*)[\])>]$/, '$1') ?? ''
    header.push(name === '' ? `column ${c + 1}` : name)
    units.push(below !== '' && below !== '-' ? below : headerUnit(name))
  }
  return { header, units }
}

function noRows(text: string, name: string, newline: string): string {
  const lines = text.split(newline).filter((line) => line.trim() !== '')
  if (lines.length === 0) return `${name}: holds blank lines only; a header and rows of values were expected.`
  if (lines.length === 1)
    return `${name}: only line 1 holds anything ("${shorten(lines[0]!)}"); rows of values under a header were expected.`
  return `${name}: line 1 ("${shorten(lines[0]!)}") and those after it are no table; a header and at least one row of numbers were expected.`
}

function shorten(text: string): string {
  const plain = text.trim().replaceAll('\t', ' ')
  return plain.length > 50 ? `${plain.slice(0, 47)}…` : plain
}
