import { parse } from 'csv-parse/sync'
import type { ColumnStore } from './column-store.ts'
import type { CsvHead } from './csv-head.ts'
import { SPLIT } from './csv-records.ts'
import type { RowSink } from './row-sink.ts'
import { decodeText } from './text-bytes.ts'

const LF = 10
const CR = 13
const QUOTE = 34
const POINT = 46
const COMMA = 44
const MINUS = 45
const ZERO = 48

/** 10^0 … 10^15, all exact. */
const TENS = Float64Array.from({ length: 16 }, (_, at) => 10 ** at)
/** A number of at most 15 digits and its power of ten are exact doubles, so one division rounds as `Number` does. */
const MOST_DIGITS = 15
/** Digits that stay exact in 32 bits, sign included. */
const SMALL_DIGITS = 9

/** A record with an open quote may be this long before the quote counts as never closed. */
const LONGEST_QUOTED = 1 << 20

/**
 * Bytes → columns, without strings or row objects: a number of plain digits is read where it lies and written
 * straight into its column. Any other field becomes text for `ColumnStore.put`; a record with quotes that are more
 * than a wrapping goes through csv-parse.
 *
 * Gives what csv-parse with `SPLIT` and `ColumnStore.put` give, bit for bit (property test).
 */
export class RowScanner {
  private readonly head: CsvHead
  private readonly sink: RowSink
  private readonly store: ColumnStore
  private readonly delimiter: number
  private readonly decimal: number
  private readonly newline: number
  /** Eight delimiters, as the double that their bytes make. */
  private readonly eightDelimiters: number
  /** Line of the record being read, from 1. */
  line: number

  constructor(head: CsvHead, sink: RowSink, firstLine: number) {
    this.head = head
    this.sink = sink
    this.store = sink.store
    this.delimiter = head.delimiter.charCodeAt(0)
    this.eightDelimiters = new DataView(new Uint8Array(8).fill(this.delimiter).buffer).getFloat64(0)
    this.decimal = head.decimal === ',' ? COMMA : POINT
    this.newline = head.newline === '\r' ? CR : LF
    this.line = firstLine
  }

  /**
   * Reads all whole records. `bytes[end − 1]` must be a newline.
   * @returns where the first record begins that is not whole (an open quote); `end` where all were read
   */
  scan(bytes: Uint8Array, from: number, end: number, last: boolean): number {
    const { store, sink, delimiter, decimal, newline } = this
    const { columns, filled, width } = store
    const { timeColumn, dateColumn } = sink
    const plainTime = sink.plainTime
    const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength)
    const eight = this.eightDelimiters
    let at = from
    while (at < end) {
      const rowAt = at
      store.startRow()
      sink.startRow()
      let c = 0
      let stored = 0
      let b = bytes[at]!
      let whole = true
      for (;;) {
        if (b !== delimiter && b !== newline && b !== CR) {
          const fieldAt = at
          let negative = false
          if (b === MINUS) {
            negative = true
            b = bytes[++at]!
          }
          // In 32 bits, exact up to nine digits; longer numbers are read again below.
          let small = 0
          let digit = b - ZERO
          const wholeAt = at
          while (digit >= 0 && digit <= 9) {
            small = (small * 10 + digit) | 0
            digit = bytes[++at]! - ZERO
          }
          let digits = at - wholeAt
          let decimals = 0
          if (digit + ZERO === decimal) {
            const pointAt = at
            digit = bytes[++at]! - ZERO
            while (digit >= 0 && digit <= 9) {
              small = (small * 10 + digit) | 0
              digit = bytes[++at]! - ZERO
            }
            decimals = at - pointAt - 1
            digits += decimals
          }
          b = digit + ZERO
          if (digits > 0 && digits <= MOST_DIGITS && (b === delimiter || b === newline || b === CR)) {
            let value = digits <= SMALL_DIGITS ? small : wholeNumber(bytes, wholeAt, at)
            if (decimals > 0) value /= TENS[decimals]!
            if (negative) value = -value
            if (c === timeColumn) {
              if (plainTime) sink.stamp = value
              else sink.timeText(ascii(bytes, fieldAt, at), c)
            } else if (c === dateColumn) sink.timeText(ascii(bytes, fieldAt, at), c)
            else {
              const k = Math.min(c, width)
              columns[k]![filled[k]!++] = value
              stored++
            }
          } else {
            at = this.oddField(bytes, fieldAt, c)
            if (at < 0) {
              whole = false
              break
            }
            b = bytes[at]!
          }
        }
        if (b === delimiter) {
          c++
          b = bytes[++at]!
          // Empty fields in a row, eight at a time.
          if (b === delimiter)
            while (at + 8 < end && view.getFloat64(at) === eight) {
              c += 8
              at += 8
              b = bytes[at]!
            }
          continue
        }
        if (b === CR && newline === LF) {
          // CR LF ends the row; a lone CR stays part of its field, which csv-parse decides.
          if (bytes[at + 1] !== LF) {
            whole = false
            break
          }
          at++
        }
        at++
        break
      }
      if (!whole) {
        store.undoRow()
        const next = this.throughCsvParse(bytes, rowAt, end, last)
        if (next < 0) return rowAt
        at = next
        continue
      }
      store.rowSamples += stored
      sink.endRow(c + 1, this.line)
      this.line++
    }
    return end
  }

  /** Any field but a plain number. @returns where it ends (its delimiter or line end); −1: csv-parse must read the record */
  private oddField(bytes: Uint8Array, from: number, c: number): number {
    const { delimiter, newline } = this
    let start = from
    let end = from
    let next: number
    if (bytes[from] === QUOTE) {
      start = from + 1
      end = start
      for (let b = bytes[end]!; b !== QUOTE; b = bytes[++end]!)
        if (b === newline || b === CR || b === undefined) return -1
      next = end + 1
      const after = bytes[next]
      if (after !== delimiter && after !== newline && !(after === CR && bytes[next + 1] === LF)) return -1
    } else {
      for (let b = bytes[end]!; b !== delimiter && b !== newline; b = bytes[++end]!) {
        if (b !== CR) continue
        if (bytes[end + 1] === LF) break
        return -1
      }
      next = end
    }
    const text = decodeText(
      bytes.subarray(start, end),
      this.head.form.encoding === 'latin-1' ? 'latin-1' : 'utf-8',
    )
    if (c === this.sink.timeColumn || c === this.sink.dateColumn) this.sink.timeText(text, c)
    else this.store.put(c, text, this.line)
    return next
  }

  /** One record as csv-parse splits it. @returns where the next begins; −1 where this one is not whole yet */
  private throughCsvParse(bytes: Uint8Array, from: number, end: number, last: boolean): number {
    const next = this.recordEnd(bytes, from, end)
    if (next < 0) {
      if (!last && end - from < LONGEST_QUOTED) return -1
      // Never closed: the line is left out, reading goes on after it.
      this.sink.unclosedQuote(this.line)
      this.line++
      return bytes.indexOf(this.newline, from) + 1
    }
    const text = decodeText(
      bytes.subarray(from, next),
      this.head.form.encoding === 'latin-1' ? 'latin-1' : 'utf-8',
    )
    const [fields] = parse(text, { ...SPLIT, ...recordOptions(this.head) }) as string[][]
    this.sink.record(fields ?? [''], this.line)
    for (let i = from; i < next; i++) if (bytes[i] === this.newline) this.line++
    return next
  }

  /** Past the record's line end, by csv-parse's rules: quotes open at a field's start only; "" is a quote. */
  private recordEnd(bytes: Uint8Array, from: number, end: number): number {
    let quoting = false
    let fieldStart = true
    for (let at = from; at < end; at++) {
      const b = bytes[at]!
      if (quoting) {
        if (b !== QUOTE) continue
        if (bytes[at + 1] === QUOTE) at++
        else quoting = false
      } else if (b === QUOTE && fieldStart) {
        quoting = true
        fieldStart = false
      } else if (b === this.newline) return at + 1
      else fieldStart = b === this.delimiter
    }
    return -1
  }
}

export function recordOptions(head: CsvHead): { delimiter: string; record_delimiter: string[] } {
  return { delimiter: head.delimiter, record_delimiter: head.newline === '\r' ? ['\r'] : ['\r\n', '\n'] }
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

/** Short plain ASCII, faster than a decoder. */
function ascii(bytes: Uint8Array, from: number, to: number): string {
  let text = ''
  for (let i = from; i < to; i++) text += String.fromCharCode(bytes[i]!)
  return text
}
