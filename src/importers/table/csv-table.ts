import { isUnit } from '../../../shared/units.ts'
import { isTimeText } from '../time/time-text.ts'
import type { HeadRecord } from './csv-records.ts'
import { readField } from './field-text.ts'

/** A table in the head: rows of one width under words. */
export interface Table {
  readonly header: HeadRecord
  /** Words above the header that hold for several columns (`BMS;;;Inverter`). */
  readonly groupRow: HeadRecord | null
  readonly unitRow: HeadRecord | null
  readonly rows: readonly HeadRecord[]
  readonly columns: number
  readonly decimal: '.' | ','
  /** Share of value fields that read as number, time, word or nothing. */
  readonly clean: number
}

/** The run of rows of one width that ends the head, and the words above it. */
export function findTable(records: readonly HeadRecord[], delimiter: string): Table | null {
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
  const pairOf = (test: (record: HeadRecord) => boolean): number =>
    filled.findIndex(
      (record, at) => at > 0 && test(record) && (at + 1 >= filled.length || test(filled[at + 1]!)),
    )
  const sure = pairOf(isValues)
  // A table whose first rows hold a time and next to nothing.
  const firstValues = sure > 0 ? sure : pairOf((record) => beginsWithValue(record, columns, decimal))
  if (firstValues < 1) return null
  // Rows above it that hold a time and nothing yet are rows all the same.
  let start = firstValues
  while (start > 1 && beginsWithValue(filled[start - 1]!, columns, decimal)) start--
  const above = filled.slice(0, start).filter(({ fields }) => Math.abs(fields.length - columns) <= 1)
  const unitRow =
    above.length > 1 && looksLikeUnits(above[above.length - 1]!) ? above[above.length - 1]! : null
  const named = unitRow ? above.slice(0, -1) : above
  if (named.length === 0) return null
  // Of several rows of words (group, name, remark), the one with most different names is the header.
  const header = named.reduce((most, each) => (distinct(each) > distinct(most) ? each : most))
  const groupRow = named[named.indexOf(header) - 1] ?? null
  const rows = filled.slice(start)
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
    groupRow,
    unitRow,
    rows,
    columns: Math.max(columns, trimmedWidth(header)),
    decimal,
    clean: clean / Math.max(1, said),
  }
}

/** A row all the same, though it holds little: its first field that says anything is a time or number. */
function beginsWithValue({ fields }: HeadRecord, columns: number, decimal: '.' | ','): boolean {
  if (Math.abs(fields.length - columns) > 1) return false
  const said = fields.filter((field) => field.trim() !== '')
  const values = said.filter((field) => isTimeText(field) || isNumberLike(field, decimal))
  return values.length > 0 && values[0] === said[0] && values.length >= 0.34 * said.length
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
/** No word stands for an empty field, as far as the head is not judged. */
export const NONE: ReadonlySet<string> = new Set()

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
