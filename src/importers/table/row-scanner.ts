import type { ColumnStore } from './column-store.ts'
import type { CsvHead } from './csv-head.ts'
import { csvParse } from './csv-parser.ts'
import { SPLIT } from './csv-records.ts'
import { type PlainFields, plainFieldsOf, type RowPlace } from './plain-fields.ts'
import type { RowSink } from './row-sink.ts'
import { decodeText } from './text-bytes.ts'

const LF = 10
const CR = 13
const QUOTE = 34

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
  private readonly newline: number
  private readonly place: RowPlace = { column: 0 }
  private readonly plainFields: PlainFields
  /** Line of the record being read, from 1. */
  line: number

  constructor(head: CsvHead, sink: RowSink, firstLine: number) {
    this.head = head
    this.sink = sink
    this.store = sink.store
    this.delimiter = head.delimiter.charCodeAt(0)
    this.newline = head.newline === '\r' ? CR : LF
    this.plainFields = plainFieldsOf(head, sink, this.place)
    this.line = firstLine
  }

  /**
   * Reads all whole records. `bytes[end − 1]` must be a newline.
   * @returns where the first record begins that is not whole (an open quote); `end` where all were read
   */
  scan(bytes: Uint8Array, from: number, end: number, last: boolean): number {
    const { store, sink, newline, place, plainFields } = this
    const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength)
    let at = from
    while (at < end) {
      const rowAt = at
      store.startRow()
      sink.startRow()
      place.column = 0
      at = plainFields(bytes, view, at, end)
      while (at >= 0 && bytes[at] !== newline) {
        if (bytes[at] === CR) at = bytes[at + 1] === LF && newline === LF ? at + 1 : -1
        else {
          at = this.oddField(bytes, at, place.column)
          if (at >= 0) at = plainFields(bytes, view, at, end)
        }
      }
      if (at < 0) {
        store.undoRow()
        const next = this.throughCsvParse(bytes, rowAt, end, last)
        if (next < 0) return rowAt
        at = next
        continue
      }
      at++
      sink.endRow(place.column + 1, this.line)
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
    const [fields] = csvParse(text, { ...SPLIT, ...recordOptions(this.head) }) as string[][]
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
