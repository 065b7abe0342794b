import { readTimeText } from '../time/time-text.ts'
import { bytesIn, DELIMITERS, type FrameRoles, fieldsOf, HEX } from './frame-csv-roles.ts'

/** Time, identifier and data: a table of frames has no fewer. */
const FEWEST_COLUMNS = 3
/** Frames of a car carry so many bytes or more; no source. */
const SEVERAL_BYTES = 4
/** Source: ISO 11898-1. */
const MOST_FD_BYTES = 64
/** No identifier has more digits. */
const MOST_ID_DIGITS = 9
/** With fewer rows each identifier may come once; no source. */
const FEWEST_ROWS = 10

/** Columns of a frame log told by what they hold, and the line of its first frame. */
export interface FoundByValues {
  readonly roles: FrameRoles
  readonly delimiter: string
  readonly firstLine: number
  /** Names above the columns, where there are any. */
  readonly header: readonly string[]
}

const ROWS = 100
/** Lines of a preamble at most. */
const PREAMBLE = 60
/** Share of the rows that must fit. */
const MOST_ROWS = 0.9

/**
 * CAN frames in columns of any order, without words that help. What tells a frame log from a table of channels: a
 * column whose number is that of the bytes beside it, in every row; identifiers that come again, with letters or `0x`
 * among their digits; a time that never falls.
 *
 *     (1700000000.250000) can0 123#0A0B        0x123 [2] 0A 0B  1.2500        Rx;8;1 2 3 4 5 6 7 8;291;0,25
 */
export function framesByValues(lines: readonly string[]): FoundByValues | null {
  const from = Math.min(PREAMBLE, lines.length >> 1)
  const sample = lines.slice(from, from + ROWS).filter((line) => line.trim() !== '')
  if (sample.length === 0) return null
  for (const delimiter of DELIMITERS) {
    if (delimiter === '#' && !sample.every((line) => line.includes('#'))) continue
    const rows = sample.map((line) => fieldsOf(line, delimiter)).filter((row) => row.length >= FEWEST_COLUMNS)
    if (rows.length < MOST_ROWS * sample.length) continue
    const found = rolesOf(rows, delimiter === '#')
    if (!found) continue
    const firstLine = lines.findIndex((line) => found.fits(fieldsOf(line, delimiter)))
    const header = firstLine > 0 ? fieldsOf(lines[firstLine - 1]!, delimiter) : []
    const named = header.length >= FEWEST_COLUMNS && header.every((name) => !/^[\d.,:]+$/.test(name))
    // A first line of names is the header of something else, however frame-like two columns of switches under it look.
    if (firstLine < 0 || firstLine > PREAMBLE || (named && !found.sure)) continue
    return { roles: found.roles, delimiter, firstLine, header: named ? header : [] }
  }
  return null
}

interface Payload {
  readonly length: number
  readonly data: number
  readonly runsOn: boolean
  readonly fits: (row: readonly string[]) => boolean
}

function rolesOf(
  rows: readonly string[][],
  hash: boolean,
): {
  readonly roles: FrameRoles
  readonly sure: boolean
  readonly fits: (row: readonly string[]) => boolean
} | null {
  const width = rows.map((row) => row.length).sort((a, b) => a - b)[Math.floor(rows.length / 20)]!
  const columns = Array.from({ length: Math.min(width, 16) }, (_, c) => c)
  const times = columns.filter((c) => isTime(rows.map((row) => row[c] ?? '')))
  if (times.length === 0) return null
  const payload = payloadOf(rows, columns, hash)
  if (!payload) return null
  const mine = (c: number): boolean =>
    c === payload.length || (payload.runsOn ? c >= payload.data && c < payload.data + 2 : c === payload.data)
  const identifier = identifierOf(
    rows,
    columns.filter((c) => !mine(c) && !isFraction(rows, c)),
  )
  const time = times
    .filter((c) => c !== identifier && !mine(c))
    .sort((a, b) => worthOfTime(rows, b) - worthOfTime(rows, a))[0]
  if (identifier < 0 || time === undefined) return null
  const letters = (c: number): boolean => rows.some((row) => /[a-f]|^0x|h$/i.test(row[c] ?? ''))
  const padded = rows.every((row) => bytesIn(row[payload.data] ?? '').every((byte) => byte.length % 2 === 0))
  const exact = rows.every((row) => row.length === payload.data + Number(row[payload.length]))
  const several = rows.filter((row) => Number(row[payload.length]) >= SEVERAL_BYTES).length > rows.length / 2
  const told =
    letters(identifier) || (padded && rows.some((row) => /[a-f]/i.test(row.slice(payload.data).join(''))))
  const sure =
    hash || (letters(identifier) && (!payload.runsOn || (padded && several))) || (!payload.runsOn && several)
  if (!(sure || told || (exact && several))) return null
  const rest = columns.filter((c) => ![identifier, time].includes(c) && !mine(c))
  const holds = (c: number, words: RegExp): boolean => rows.every((row) => words.test(row[c] ?? ''))
  return {
    roles: {
      time,
      identifier,
      extended: rest.find((c) => holds(c, /^(std|ext|xtd|standard|extended|s|x)$/i)) ?? -1,
      length: payload.length,
      kind: rest.find((c) => holds(c, /^(data|remote|rtr|error|err|d|r)( frame)?$/i)) ?? -1,
      data: [payload.data],
      dataRunsOn: payload.runsOn,
    },
    sure,
    fits: (row) => HEX.test(row[identifier] ?? '') && /\d/.test(row[time] ?? '') && payload.fits(row),
  }
}

function payloadOf(rows: readonly string[][], columns: readonly number[], hash: boolean): Payload | null {
  const lengths = columns.filter((c) =>
    rows.every((row) => /^\d{1,2}$/.test(row[c] ?? '') && Number(row[c]) <= MOST_FD_BYTES),
  )
  const least = (fits: Payload['fits']): boolean => rows.filter(fits).length >= MOST_ROWS * rows.length
  for (const length of lengths) {
    if (!rows.some((row) => Number(row[length]) >= 2)) continue
    for (const data of columns) {
      if (data === length) continue
      const one = (row: readonly string[]): boolean => countIn(row[data] ?? '') === Number(row[length])
      const many = (row: readonly string[]): boolean => {
        const count = Number(row[length])
        const bytes = row.slice(data, data + count)
        return data > length && bytes.length === count && bytes.every(isByte)
      }
      if (least(one) && rows.some((row) => countIn(row[data] ?? '') >= 2))
        return { length, data, runsOn: false, fits: one }
      if (least(many)) return { length, data, runsOn: true, fits: many }
    }
  }
  // No column tells the length: behind a `#` (an identifier of 29 bit before it is eight digits too), or bytes of two
  // digits parted inside one field.
  const data = (hash ? [...columns].reverse() : columns).find((c) => {
    const fields = rows.map((row) => row[c] ?? '')
    if (hash)
      return (
        c > 0 && fields.every((field) => /^([0-9a-f]{2})*$/i.test(field)) && fields.some((f) => f.length >= 2)
      )
    return fields.every(
      (field) => /^((0x)?[0-9a-f]{2}[\s:|,-]+)+(0x)?[0-9a-f]{2}$/i.test(field) && !/\d:\d\d:\d/.test(field),
    )
  })
  if (data === undefined) return null
  return { length: -1, data, runsOn: false, fits: (row) => countIn(row[data] ?? '') >= 0 }
}

const isByte = (text: string): boolean =>
  /^(0x)?[0-9a-f]{1,2}h?$/i.test(text) || (/^\d{3}$/.test(text) && Number(text) < 256)

/** Bytes that a field holds; −1 where it is none. */
function countIn(field: string): number {
  const bytes = bytesIn(field)
  if (bytes.length === 1 && /^(0x)?([0-9a-f]{2})+$/i.test(bytes[0]!))
    return bytes[0]!.replace(/^0x/i, '').length / 2
  return bytes.every(isByte) ? bytes.length : -1
}

function isTime(fields: readonly string[]): boolean {
  const values = fields.map((field) =>
    /^-?\d+([.,]\d+)?(\s*[a-zµ]+)?$/i.test(field)
      ? Number.parseFloat(field.replace(',', '.'))
      : (readTimeText(field, 'dmy')?.seconds ?? Number.NaN),
  )
  if (values.some(Number.isNaN)) return false
  const rising = values.filter((value, i) => i === 0 || value >= values[i - 1]!).length
  return rising >= 0.95 * values.length && (values.length === 1 || values.at(-1)! > values[0]!)
}

const isFraction = (rows: readonly string[][], c: number): boolean =>
  rows.some((row) => /[.,:]/.test(row[c] ?? ''))

/** A fraction or a clock beats whole numbers, those beat a count of the rows; the leftmost of equals. */
function worthOfTime(rows: readonly string[][], c: number): number {
  const counts = rows.every((row, i) => i === 0 || Number(row[c]) === Number(rows[i - 1]![c]) + 1)
  return (isFraction(rows, c) ? 2 : counts ? 0 : 1) - c * 1e-3
}

/** The column whose hexadecimal (or whole) numbers come again; −1 where none does. */
function identifierOf(rows: readonly string[][], columns: readonly number[]): number {
  let best = -1
  let most = 0
  for (const c of columns) {
    const fields = rows.map((row) => row[c] ?? '')
    if (!fields.every((field) => HEX.test(field) && /\d/.test(field))) continue
    const digits = fields.map((field) => field.replace(/^0x/i, '').replace(/[hx]$/i, ''))
    if (digits.some((each) => each.length > MOST_ID_DIGITS)) continue
    const distinct = new Set(digits).size
    if (rows.length >= FEWEST_ROWS && distinct > rows.length / 2) continue
    const worth =
      (fields.some((field) => /^0x|[hx]$/i.test(field)) ? 4 : 0) +
      (digits.some((each) => /[a-f]/i.test(each)) ? 2 : 0) +
      (digits.every((each) => each.length === 3 || each.length === 8) ? 1 : 0) +
      (Math.max(...digits.map((each) => each.length)) >= 2 ? 1 : 0) +
      Math.min(distinct, 50) / 100
    if (worth > most && worth >= 1) {
      best = c
      most = worth
    }
  }
  return best
}
