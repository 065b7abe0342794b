import { z } from 'zod'

/** A whole number as written: 291, "291" or "0x123". */
function asWhole(value: unknown): unknown {
  if (typeof value !== 'string') return value
  const text = value.trim()
  return /^[+-]?(0x[0-9a-f]+|\d+)$/i.test(text)
    ? Number(text.replace(/^[+-]/, '')) * (text[0] === '-' ? -1 : 1)
    : text
}

const whole = z.preprocess(asWhole, z.number().int())

const decimal = z.preprocess(
  (value) =>
    typeof value === 'string' && value.trim() !== '' ? Number(value.trim().replace(',', '.')) : value,
  z.number(),
)

const yesNo = z.preprocess((value) => {
  const text = String(value).trim().toLowerCase()
  if (['true', '1', 'yes', 'y', 'x'].includes(text)) return true
  if (['false', '0', 'no', 'n'].includes(text)) return false
  return value
}, z.boolean())

const wholeList = z.preprocess(
  (value) =>
    typeof value === 'string'
      ? value.split(/[\s,;|]+/).filter((each) => each !== '')
      : Array.isArray(value)
        ? value
        : [value],
  // 64-bit raw values are beyond the whole numbers that a double holds exactly
  z.array(z.preprocess(asWhole, z.number().refine(Number.isInteger, 'a whole number'))),
)

/** One row of the signal table as the contract words it; what may be left out has its default here. */
export const signalRowSchema = z.object({
  identifier: whole.pipe(z.number().min(0).max(0x1fffffff)),
  extended: yesNo.optional(),
  node: z.string().optional(),
  name: z.string().trim().min(1),
  channel: z.string().trim().optional(),
  start_bit: whole.pipe(z.number().min(0).max(511)),
  length: whole.pipe(z.number().min(1).max(64)),
  byte_order: z.preprocess(
    (value) =>
      typeof value === 'string'
        ? value
            .trim()
            .toLowerCase()
            .replace(/[\s_-]?endian$/, '')
        : value,
    z.enum(['little', 'big']),
  ),
  signed: yesNo.default(false),
  factor: decimal.default(1),
  offset: decimal.default(0),
  unit: z.string().trim().optional(),
  selector_start_bit: whole.pipe(z.number().min(0).max(511)).optional(),
  selector_length: whole.pipe(z.number().min(1).max(32)).optional(),
  selector_value: whole.pipe(z.number().min(0)).optional(),
  invalid: wholeList.optional(),
  period_ms: decimal.pipe(z.number().min(0)).optional(),
})

/** What each field should have been, for errors. */
export const EXPECTED: Readonly<Record<string, string>> = {
  row: 'a signal with identifier, name, start_bit, length and byte_order',
  identifier: 'a whole number 0 … 0x1FFFFFFF, decimal or 0x…',
  extended: 'true or false',
  name: 'a name',
  start_bit: 'a whole number 0 … 511',
  length: 'a whole number 1 … 64',
  byte_order: '"little" or "big"',
  signed: 'true or false',
  factor: 'a number',
  offset: 'a number',
  selector_start_bit: 'a whole number 0 … 511',
  selector_length: 'a whole number 1 … 32',
  selector_value: 'a whole number, 0 or more',
  invalid: 'a list of whole raw values',
  period_ms: 'a number of milliseconds, 0 for frames sent now and then',
}
