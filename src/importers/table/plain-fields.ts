import type { CsvHead } from './csv-head.ts'
import type { RowSink } from './row-sink.ts'

const LF = 10
const CR = 13
const COMMA = 44
const MINUS = 45
const POINT = 46
const ZERO = 48

/** 10^0 … 10^15, all exact. */
const TENS = Float64Array.from({ length: 16 }, (_, at) => 10 ** at)
/** A number of at most 15 digits and its power of ten are exact doubles, so one division rounds as `Number` does. */
const MOST_DIGITS = 15
/** Digits that stay exact in 32 bits, sign included. */
const SMALL_DIGITS = 9

/** Where in its row the reader stands. */
export interface RowPlace {
  /** Column of the field last read or to be read. */
  column: number
}

/**
 * Reads on in a row from `from`, a field's first byte or the delimiter before the next one.
 * @param end past the last byte of whole rows
 * @returns where the row ends (its newline or CR), or where a field begins that is no plain number, of `place.column`
 */
export type PlainFields = (bytes: Uint8Array, view: DataView, from: number, end: number) => number

/**
 * Plain numbers and empty fields into their columns: nearly all the time of an import is spent here, much of it in
 * the first second of a process. So it is one short function that calls nothing (compiled soon), and closes over how
 * the file is written (compiled for it).
 */
export function plainFieldsOf(head: CsvHead, sink: RowSink, place: RowPlace): PlainFields {
  const { store } = sink
  const { width, columns, filled, rowColumns } = store
  const delimiter = head.delimiter.charCodeAt(0)
  const decimal = head.decimal === ',' ? COMMA : POINT
  const newline = head.newline === '\r' ? CR : LF
  /** Eight delimiters, as the double that their bytes make. */
  const eightDelimiters = new DataView(new Uint8Array(8).fill(delimiter).buffer).getFloat64(0)
  /** A time that is a plain number. */
  const timeColumn = sink.plainTime ? sink.timeColumn : -1
  /** A time and a date written as text, though it may be digits. */
  const textColumn = sink.plainTime ? -1 : sink.timeColumn
  const { dateColumn } = sink
  return (bytes, view, from, end) => {
    let at = from
    let c = place.column
    let stored = store.rowSamples
    let b = bytes[at]!
    for (;;) {
      if (b === delimiter) {
        c++
        b = bytes[++at]!
        // Empty fields in a row, eight at a time.
        if (b === delimiter)
          while (at + 8 < end && view.getFloat64(at, true) === eightDelimiters) {
            c += 8
            at += 8
            b = bytes[at]!
          }
        if (b === delimiter) continue
      }
      if (b === newline || b === CR) break
      if (c >= width || c === textColumn || c === dateColumn) break
      const fieldAt = at
      // Cell voltages to the millivolt, most of a pack's log: no loop whose end must be guessed.
      if (bytes[at + 1] === decimal && bytes[at + 5] === delimiter && c !== timeColumn) {
        const volts = b - ZERO
        const d = bytes[at + 2]! - ZERO
        const e = bytes[at + 3]! - ZERO
        const f = bytes[at + 4]! - ZERO
        if (volts >= 0 && volts <= 9 && d >= 0 && d <= 9 && e >= 0 && e <= 9 && f >= 0 && f <= 9) {
          columns[c]![filled[c]!++] = (volts * 1000 + d * 100 + e * 10 + f) / 1000
          rowColumns[stored++] = c
          at += 5
          b = delimiter
          continue
        }
      }
      if (b === MINUS) b = bytes[++at]!
      // In 32 bits, exact up to nine digits. The first turns of both loops are written out: most numbers end there.
      let small = 0
      let digit = b - ZERO
      const wholeAt = at
      if (digit >= 0 && digit <= 9) {
        small = digit
        digit = bytes[++at]! - ZERO
        if (digit >= 0 && digit <= 9) {
          small = small * 10 + digit
          digit = bytes[++at]! - ZERO
          while (digit >= 0 && digit <= 9) {
            small = (small * 10 + digit) | 0
            digit = bytes[++at]! - ZERO
          }
        }
      }
      let digits = at - wholeAt
      let decimals = 0
      if (digit + ZERO === decimal) {
        const pointAt = at
        digit = bytes[++at]! - ZERO
        if (digit >= 0 && digit <= 9) {
          small = (small * 10 + digit) | 0
          digit = bytes[++at]! - ZERO
          if (digit >= 0 && digit <= 9) {
            small = (small * 10 + digit) | 0
            digit = bytes[++at]! - ZERO
          }
        }
        while (digit >= 0 && digit <= 9) {
          small = (small * 10 + digit) | 0
          digit = bytes[++at]! - ZERO
        }
        decimals = at - pointAt - 1
        digits += decimals
      }
      b = digit + ZERO
      if (digits === 0 || digits > MOST_DIGITS || (b !== delimiter && b !== newline && b !== CR)) {
        at = fieldAt
        break
      }
      let value = digits <= SMALL_DIGITS ? small : wholeNumber(bytes, wholeAt, at)
      if (decimals > 0) value /= TENS[decimals]!
      if (bytes[fieldAt] === MINUS) value = -value
      if (c === timeColumn) sink.stamp = value
      else {
        columns[c]![filled[c]!++] = value
        rowColumns[stored++] = c
      }
    }
    place.column = c
    store.rowSamples = stored
    return at
  }
}

/** The digits between two places as one whole number; a decimal sign among them is passed over. */
function wholeNumber(bytes: Uint8Array, from: number, to: number): number {
  let value = 0
  for (let i = from; i < to; i++) {
    const digit = bytes[i]! - ZERO
    if (digit >= 0 && digit <= 9) value = value * 10 + digit
  }
  return value
}
