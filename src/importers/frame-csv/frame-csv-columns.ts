import { EXTENDED, type SignalTable } from '../frames/signal.ts'
import { bytesIn, DELIMITERS, type FrameRoles, fieldsOf, HEX } from './frame-csv-roles.ts'
import { type FrameTime, frameTime } from './frame-csv-time.ts'
import { framesByValues } from './frame-csv-values.ts'

/** Time, identifier and data: a table of frames has no fewer. */
const FEWEST_COLUMNS = 3
/** A standard identifier has so many hexadecimal digits at most (11 bits). */
const STANDARD_DIGITS = 3

/** What each column of a frame CSV holds, and how its numbers are written. Column −1: there is none. */
export interface FrameColumns {
  readonly delimiter: string
  /** Lines before the first frame: preamble and header. */
  readonly skipLines: number
  readonly newline: '\n' | '\r'
  readonly time: FrameTime
  readonly identifier: number
  readonly identifierHex: boolean
  readonly extended: number
  /** More than three hex digits mean an extended identifier (not where all are padded to one width). */
  readonly digitsTell: boolean
  readonly length: number
  readonly kind: number
  /** The kind column is a yes/no for remote frames. */
  readonly kindIsRemote: boolean
  readonly data: readonly number[]
  /** The data's bytes are split by the delimiter itself and run on to the row's end. */
  readonly dataRunsOn: boolean
  readonly dataHex: boolean
}

const WORDS = {
  time: /^((abs|absolute|rel|relative|elapsed|recv|rx|log|sys|system) ?)?(time|timestamp|time ?stamp|t|stamp|seconds|date ?time|zeit|zeitstempel|temps|rel|relative|elapsed|elapsed seconds)\b/,
  identifier: /^((can|arb|arbitration|frame|msg|message|hex) ?)?(id|ident|identifier|address|cob id)\b/,
  extended: /^(ext|extended|ide|xtd|eff|id type|format|frame format|29 ?bit|is extended)\b/,
  length: /^(len|length|dlc|dl|size|data ?length|bytes|count)\b/,
  kind: /^(type|frame type|kind|rtr|remote|flags|event)\b/,
  data: /^(data|payload|data ?bytes|bytes|hex data|content)\b/,
  byte: /^(b|d|data|byte|db) ?(\d{1,2})\b/,
} as const

const plain = (field: string): string =>
  field
    .trim()
    .replace(/^["']|["']$/g, '')
    .replace(/([a-z])([A-Z])/g, '$1 $2')
    .toLowerCase()
    .replace(/[_.\-[\](){}:/]+/g, ' ')
    .trim()

/**
 * Understands the head of a frame CSV: by its header's words, or without one by what the columns hold.
 * @param head the first lines, decoded
 * @param table tells hexadecimal from decimal identifiers where the digits do not
 * @returns null where this is no frame CSV
 */
export function frameColumns(head: string, table: SignalTable | null = null): FrameColumns | null {
  const newline = !head.includes('\n') && head.includes('\r') ? '\r' : '\n'
  const lines = head.split(newline).map((line) => line.replace(/\r$/, ''))
  if (lines.length > 1) lines.pop() // cut by the end of the head
  for (let at = 0; at < Math.min(lines.length, 60); at++)
    for (const delimiter of DELIMITERS) {
      const words = fieldsOf(lines[at]!, delimiter).map(plain)
      if (words.length < FEWEST_COLUMNS) continue
      const found = byWords(words)
      if (!found) continue
      const rows = lines
        .slice(at + 1, at + 1500)
        .map((line) => fieldsOf(line, delimiter))
        .filter((row) => row.length >= FEWEST_COLUMNS)
      if (!looksLikeFrames(found, rows)) continue
      return judge(
        { ...found, delimiter, newline, preamble: lines.slice(0, at) },
        fieldsOf(lines[at]!, delimiter),
        rows,
        table,
      )
    }
  const found = framesByValues(lines)
  if (!found) return null
  const { roles, delimiter, firstLine, header } = found
  const rows = lines
    .slice(firstLine, firstLine + 1500)
    .map((line) => fieldsOf(line, delimiter))
    .filter((row) => row.length >= FEWEST_COLUMNS)
  const preamble = lines.slice(0, firstLine - (header.length > 0 ? 1 : 0))
  return judge({ ...roles, delimiter, newline, preamble }, header, rows, table)
}

function byWords(words: readonly string[]): FrameRoles | null {
  const find = (rule: RegExp): number => words.findIndex((word) => rule.test(word))
  const time = find(WORDS.time)
  const identifier = find(WORDS.identifier)
  if (time < 0 || identifier < 0) return null
  const numbered = words.flatMap((word, column) => {
    const match = WORDS.byte.exec(word)
    return match ? [{ column, number: Number(match[2]) }] : []
  })
  const eight = numbered.sort((a, b) => a.number - b.number).map((each) => each.column)
  const one = words.findIndex(
    (word) => WORDS.data.test(word) && !/length|len|count/.test(word) && !WORDS.byte.test(word),
  )
  const data = eight.length >= 2 ? eight : one >= 0 ? [one] : eight
  if (data.length === 0) return null
  const length = words.findIndex((word, column) => WORDS.length.test(word) && !data.includes(column))
  return { time, identifier, extended: find(WORDS.extended), length, kind: find(WORDS.kind), data }
}

/** A header alone could be that of a table of channels: most rows must hold an identifier and bytes. */
function looksLikeFrames(roles: FrameRoles, rows: readonly string[][]): boolean {
  const fits = rows.filter((row) => {
    const first = row[roles.data[0]!] ?? ''
    return HEX.test(row[roles.identifier] ?? '') && /^(0x)?[0-9a-f\s:|,x-]*$/i.test(first)
  })
  return fits.length >= 0.7 * rows.length
}

function judge(
  roles: FrameRoles & Pick<FrameColumns, 'delimiter' | 'newline'> & { readonly preamble: readonly string[] },
  header: readonly string[],
  rows: readonly string[][],
  table: SignalTable | null,
): FrameColumns | null {
  const { preamble, ...found } = roles
  const time = frameTime(header, rows, roles.delimiter, preamble, roles.time)
  if (!time) return null
  const words = header.map(plain)
  const identifiers = rows.map((row) => row[roles.identifier] ?? '').filter((field) => field !== '')
  const bare = identifiers.filter((field) => !/^0x/i.test(field))
  const identifierHex = numbersHex(words[roles.identifier] ?? '', bare, () => tableSaysHex(bare, table))
  const widths = new Set(identifiers.map((field) => field.replace(/^0x/i, '').replace(/[hx]$/i, '').length))
  const tokens = rows.flatMap((row) =>
    roles.data.length > 1
      ? roles.data.map((column) => row[column] ?? '').filter((field) => field !== '')
      : roles.dataRunsOn
        ? row.slice(roles.data[0]!, roles.data[0]! + (Number(row[roles.length]) || 0))
        : bytesIn(row[roles.data[0]!] ?? ''),
  )
  const joined = roles.data.length === 1 && tokens.some((token) => token.length > STANDARD_DIGITS)
  const dataHex =
    joined ||
    numbersHex(
      words[roles.data[0]!] ?? '',
      tokens.filter((token) => !/^0x/i.test(token)),
      () => tokens.every((token) => token.length === 2),
    )
  const tellsExtended = roles.extended < 0 && rows.some((row) => /^(ext|xtd|29)/i.test(row[roles.kind] ?? ''))
  return {
    ...found,
    ...(tellsExtended ? { extended: roles.kind, kind: -1 } : {}),
    time,
    skipLines: preamble.length + (header.length > 0 ? 1 : 0),
    kindIsRemote: /^(rtr|remote)/.test(words[roles.kind] ?? ''),
    dataRunsOn:
      roles.dataRunsOn ??
      (roles.data[0] === words.length - 1 && rows.some((row) => row.length > words.length)),
    identifierHex,
    digitsTell: widths.size > 1 || ![...widths].some((width) => width > STANDARD_DIGITS),
    dataHex,
  }
}

/** Hexadecimal? By the header, by a letter among the digits, else by what the caller knows. */
function numbersHex(header: string, fields: readonly string[], otherwise: () => boolean): boolean {
  if (/\bhex/.test(header)) return true
  if (/\bdec/.test(header)) return false
  if (fields.some((field) => /[a-f]/i.test(field.replace(/[hx]$/i, '')))) return true
  return otherwise()
}

function tableSaysHex(fields: readonly string[], table: SignalTable | null): boolean {
  const known = new Set((table?.signals ?? []).map((signal) => signal.key & ~EXTENDED))
  let hex = 0
  let decimal = 0
  for (const field of fields) {
    if (known.has(Number.parseInt(field, 16))) hex++
    if (known.has(Number.parseInt(field, 10))) decimal++
  }
  if (hex !== decimal) return hex > decimal
  const widths = new Set(fields.map((field) => field.length))
  return widths.size === 1 && (widths.has(3) || widths.has(8))
}
