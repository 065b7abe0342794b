import { BOUNDS } from '../../../shared/bounds.ts'
import { LogError } from '../../errors.ts'
import { firstLines, recordsOf } from './csv-records.ts'
import { findTable, NONE, type Table } from './csv-table.ts'
import { readField } from './field-text.ts'
import { fahrenheitByEnding, headerUnit } from './header-unit.ts'
import { decodeText, type TextForm, textForm } from './text-bytes.ts'

/** A word that stands for "no value" is learned from no fewer lines; no source. */
const FEWEST_LINES = 5
/** As much of a line as a message shows. */
const SHOWN_CHARACTERS = 50

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

const DELIMITERS = [';', '\t', ',', '|']
/** @throws LogError where the head holds no rows of numbers under a header */
export function readCsvHead(head: Uint8Array, name: string): CsvHead {
  const form = textForm(head, name)
  let text = decodeText(head.subarray(form.markBytes), form.encoding)
  if (text.includes('\0')) text = text.slice(0, text.indexOf('\0'))
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
  if (table.columns > BOUNDS.columns)
    throw new LogError(
      'too-many-columns',
      `${name}: has ${table.columns} columns; at most ${BOUNDS.columns} were expected.`,
    )
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
      if (count >= 0.2 * sample.length && sample.length >= FEWEST_LINES) words.add(word)
  }
  return words
}

function namesAndUnits(table: Table): { header: string[]; units: (string | null)[] } {
  const header: string[] = []
  const units: (string | null)[] = []
  const written = table.header.fields.map((field) => field.trim()).filter((field) => field !== '')
  // Names that repeat are told apart by the words above them, and with them all that are counted alike: of two boxes
  // with 40 and 32 cells the last eight repeat nowhere.
  const counted = (name: string): string => name.replace(/\d+/g, '#')
  const repeats = new Set(written.filter((name, at) => written.indexOf(name) !== at).map(counted))
  const groups = table.groupRow?.fields ?? []
  let group = ''
  for (let c = 0; c < table.columns; c++) {
    group = groups[c]?.trim() || group
    const name = (table.header.fields[c] ?? '')
      .trim()
      .replace(/^\ufeff/, '')
      .replace(/^#\s*(?=\w)/, '')
    const below = table.unitRow?.fields[c]?.trim().replace(/^[[(<](.*)[\])>]$/, '$1') ?? ''
    header.push(
      name === '' ? `column ${c + 1}` : repeats.has(counted(name)) ? `${group} ${name}`.trim() : name,
    )
    const ofName = headerUnit(name) ?? (fahrenheitByEnding(name, table.header.fields) ? '°F' : null)
    units.push(below !== '' && below !== '-' ? below : ofName)
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
  return plain.length > SHOWN_CHARACTERS ? `${plain.slice(0, 47)}…` : plain
}
