import { csvField } from '../tables/table-csv.ts'
import type { OutTable, OutValue } from './out-table.ts'

/** Rows turned into text at once. */
const ROWS = 8192

/**
 * A table as CSV by RFC 4180 (UTF-8, CRLF, quotes doubled): names, a row of units, then the rows. Empty: no value; NaN:
 * a sample that cannot be believed. Numbers as the shortest text that reads back as the same double.
 */
export function* csvText(table: OutTable): Generator<string> {
  const lines = [table.columns.map(({ note }) => note.name), table.columns.map(({ note }) => note.unit)]
  yield lines.map(csvLine).join('')
  for (let from = 0; from < table.rows; from += ROWS) {
    const to = Math.min(table.rows, from + ROWS)
    const columns = table.columns.map((each) => each.slice(from, to))
    let text = ''
    for (let row = 0; row < to - from; row++)
      text += csvLine(columns.map((column) => fieldText(column[row]!)))
    yield text
  }
}

const csvLine = (fields: readonly string[]): string => `${fields.map(csvField).join(',')}\r\n`

function fieldText(value: OutValue): string {
  if (value === null) return ''
  if (Object.is(value, -0)) return '-0'
  return typeof value === 'boolean' ? (value ? '1' : '0') : String(value)
}

/**
 * A table as JSON: what each column is, then the rows as lists in the columns' order. What is not finite is null, as
 * everywhere in the program's JSON; a Parquet file or CSV tells it from what is missing.
 */
export function* jsonText(table: OutTable): Generator<string> {
  yield `{"table":${JSON.stringify(table.name)},\n"columns":${JSON.stringify(table.columns.map(({ note }) => note))},\n"rows":[`
  for (let from = 0; from < table.rows; from += ROWS) {
    const to = Math.min(table.rows, from + ROWS)
    const columns = table.columns.map((each) => each.slice(from, to))
    let text = ''
    for (let row = 0; row < to - from; row++)
      text += `${from + row === 0 ? '' : ','}\n${JSON.stringify(columns.map((column) => plain(column[row]!)))}`
    yield text
  }
  yield '\n]}\n'
}

const plain = (value: OutValue): OutValue =>
  typeof value === 'number' && !Number.isFinite(value) ? null : value
