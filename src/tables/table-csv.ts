import type { Review } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { LogError } from '../errors.ts'
import { columnsOf, TABLE_NAMES } from './columns.ts'

/**
 * A table of the review as CSV by RFC 4180 (CRLF, quotes doubled): a row of labels, a row of units, then the rows.
 * Missing is an empty field. Needs no data frame: danfojs is not loaded for it.
 * @throws LogError where there is no table of this name
 */
export function tableCsv(review: Review, name: string, vehicle: Vehicle = {}): string {
  const known = TABLE_NAMES.find((each) => each === name)
  if (!known)
    throw new LogError(
      'no-such-table',
      `There is no table "${name}"; ${TABLE_NAMES.join(', ')} were expected.`,
    )
  const { columns } = columnsOf(review, known, vehicle)
  const lines = [columns.map(({ label }) => label), columns.map(({ unit }) => unit)]
  const rows = columns[0]?.values.length ?? 0
  for (let row = 0; row < rows; row++)
    lines.push(columns.map(({ values }) => (values[row] === null ? '' : String(values[row]))))
  return lines.map((line) => `${line.map(csvField).join(',')}\r\n`).join('')
}

const NUMBER = /^[-+]?(?:\d+\.?\d*|\.\d+)(?:e[-+]?\d+)?$/i

/**
 * Quotes where RFC 4180 asks for it. Text that a spreadsheet would take for a formula (= + - @ in front, blanks and tabs
 * before them too) gets an apostrophe; numbers stay numbers.
 */
export function csvField(text: string): string {
  const guarded = /^\s*[=+\-@]|^[\t\r]/.test(text) && !NUMBER.test(text) ? `'${text}` : text
  return /[",\r\n]/.test(guarded) ? `"${guarded.replaceAll('"', '""')}"` : guarded
}
