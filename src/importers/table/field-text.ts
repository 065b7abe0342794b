import { isUnit } from '../../../shared/units.ts'

/**
 * What one field of a CSV says. The slow, plain reading of a field: the byte scanner takes only fields that it reads
 * alike and leaves all others to this.
 */
export type Field =
  | { readonly kind: 'empty' }
  | {
      readonly kind: 'number'
      readonly value: number
      readonly unit?: string
      readonly thousands?: true
      readonly bound?: true
    }
  | { readonly kind: 'missing' }
  | { readonly kind: 'damaged'; readonly how: string }
  | { readonly kind: 'text'; readonly text: string }

const EMPTY: Field = { kind: 'empty' }
const MISSING: Field = { kind: 'missing' }

/** Words that say "no value". */
const NO_VALUE =
  /^([-+]?nan|null|n\/a|#n\/a|na|nil|[-–—]+|\?+|\*+|[-+]?inf(inity)?|[-+]?1\.#(ind|qnan|inf)|#(value|div\/0|ref|num|name)[!?]?)$/i
const PLAIN = /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i
const HEX = /^0x[0-9a-f]{1,13}$/i
const MONTHS = 'jan|feb|mar|apr|may|mai|jun|jul|aug|sep|oct|okt|nov|dec|dez|mrz|mär'
const DATE_FROM_NUMBER = new RegExp(
  `^(\\d{1,2}[-. /]+(${MONTHS})[a-z]*\\.?([-. /]+\\d{2,4})?|(${MONTHS})[a-z]*[-. /]+\\d{1,4}|\\d{1,2}[./-]\\d{1,2}[./-](19|20)\\d{2}|(19|20)\\d{2}-\\d{2}-\\d{2}( 00:00:00)?)$`,
  'i',
)

/**
 * @param decimal the file's decimal sign
 * @param emptyWords words (lower case) that this file writes where a slow channel has no value
 */
export function readField(written: string, decimal: '.' | ',', emptyWords: ReadonlySet<string>): Field {
  const text = written.trim()
  if (text === '') return EMPTY
  const value = plainNumber(text, decimal)
  if (value !== null) return { kind: 'number', value }
  if (emptyWords.size > 0 && emptyWords.has(text.toLowerCase())) return EMPTY
  if (NO_VALUE.test(text)) return MISSING
  if (HEX.test(text)) return { kind: 'number', value: Number(text) }
  if (/^#+$/.test(text)) return { kind: 'damaged', how: '##### from a spreadsheet column too narrow' }
  const grouped = groupedNumber(text, decimal)
  if (grouped !== null) return { kind: 'number', value: grouped, thousands: true }
  if (DATE_FROM_NUMBER.test(text))
    return { kind: 'damaged', how: 'a value that a spreadsheet turned into a date' }
  const bound = /^[<>≥≤]=?\s*(.+)$/.exec(text)
  const limit = bound ? plainNumber(bound[1]!, decimal) : null
  if (limit !== null) return { kind: 'number', value: limit, bound: true }
  const withUnit = /^([+-]?[\d.,]+(?:e[+-]?\d+)?)\s*([^\d\s.,+-].*)$/i.exec(text)
  if (withUnit && isUnit(withUnit[2]!)) {
    const number = plainNumber(withUnit[1]!, decimal)
    if (number !== null) return { kind: 'number', value: number, unit: withUnit[2]! }
  }
  return { kind: 'text', text }
}

/** The number as `Number` reads it, with the file's decimal sign; null where the text is not plainly a number. */
export function plainNumber(text: string, decimal: '.' | ','): number | null {
  if (decimal === ',') {
    if (text.includes(',')) {
      if (text.includes('.')) return null
      const pointed = text.replace(',', '.')
      return PLAIN.test(pointed) ? Number(pointed) : null
    }
    // 1.234 in a file with decimal commas is twelve hundred or a stray point: `groupedNumber` decides.
    if (/^[+-]?\d{1,3}(\.\d{3})+$/.test(text)) return null
  }
  return PLAIN.test(text) ? Number(text) : null
}

/** `1,234.5`, `1.234,5`, `1 234,5`, `1'234.5`: thousands kept apart by another sign than the decimal one. */
function groupedNumber(text: string, decimal: '.' | ','): number | null {
  const point = decimal === '.' ? '\\.' : ','
  const apart = decimal === '.' ? "[, '’\u00a0\u202f]" : "[. '’\u00a0\u202f]"
  const match = new RegExp(`^([+-]?\\d{1,3}(?:(${apart})\\d{3})(?:\\2\\d{3})*)(?:${point}(\\d+))?$`).exec(
    text,
  )
  if (!match) return null
  return Number(`${match[1]!.replaceAll(match[2]!, '')}.${match[3] ?? '0'}`)
}
