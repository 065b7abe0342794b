import { FD_FRAME, type FrameOutlet, type SkipCount } from '../frames/frame-sink.ts'
import { EXTENDED, type SignalTable } from '../frames/signal.ts'
import { RowClock } from './frame-csv-clock.ts'
import type { FrameColumns } from './frame-csv-columns.ts'
import { isPrefixed, RowFields, wholeNumber } from './frame-csv-fields.ts'
import { RowPayload } from './frame-csv-payload.ts'

/** No identifier is longer, with 0x before it or in decimal. */
const MOST_DIGITS = 10
/** Largest standard identifier: 11 bits. Source: ISO 11898-1. */
const STANDARD_MOST = 0x7ff
/** Its hexadecimal digits. */
const STANDARD_DIGITS = 3
/** Source: ISO 11898-1. */
const MOST_FD_BYTES = 64
/** Source: ISO 11898-1. */
const MOST_CLASSIC_BYTES = 8

/** Bytes for the length codes 9 … 15. Source: ISO 11898-1, from memory. */
const FD_LENGTHS = [12, 16, 20, 24, 32, 48, 64]
const NOTHING = new DataView(new ArrayBuffer(0))
const YES = /^(1|x|e|t|y|true|yes|ext|extended|29.*|xtd|eff)$/i
const UNREAD = Number.NaN

/** One row of a frame CSV at a time, from bytes to the outlet. */
export class FrameLine {
  readonly #columns: FrameColumns
  readonly #outlet: FrameOutlet
  readonly #skips: SkipCount
  readonly #known: ReadonlySet<number>
  readonly #row: RowFields
  readonly #clock: RowClock
  readonly #payload: RowPayload

  constructor(columns: FrameColumns, table: SignalTable | null, outlet: FrameOutlet, skips: SkipCount) {
    this.#columns = columns
    this.#outlet = outlet
    this.#skips = skips
    this.#known = new Set(table?.signals.map((signal) => signal.key))
    this.#row = new RowFields(columns.delimiter)
    this.#clock = new RowClock(columns.time, columns.delimiter !== ',')
    this.#payload = new RowPayload(columns)
    outlet.useView(new DataView(this.#payload.bytes.buffer))
  }

  startedAt(): string | null {
    return this.#clock.startedAt()
  }

  /** The row in bytes[from, to). */
  take(bytes: Uint8Array, from: number, to: number, line: number): void {
    const row = this.#row
    const { identifier, time } = this.#columns
    row.split(bytes, from, to)
    if (row.count < 2) return
    const whole = row.has(identifier) && row.has(time.column)
    const ownS = whole ? this.#clock.ownS(row) : UNREAD
    const key = whole ? this.#key() : UNREAD
    if (!whole) this.#skip('rows with too few fields', line)
    else if (Number.isNaN(ownS)) this.#skip('rows whose time cannot be read', line)
    else if (Number.isNaN(key)) this.#skip('rows whose identifier cannot be read', line)
    else if (!this.#special(ownS, key)) this.#data(ownS, key, line)
  }

  #skip(what: string, line: number): void {
    this.#skips.add(what, `line ${line}`)
  }

  /** The identifier, bit 31 set for extended ones; NaN where it cannot be read. */
  #key(): number {
    const { bytes, from, to } = this.#row
    const { identifier, identifierHex, extended, digitsTell } = this.#columns
    const start = from[identifier]!
    let end = to[identifier]!
    const prefixed = isPrefixed(bytes, start, end)
    const at = prefixed ? start + 2 : start
    const last = bytes[end - 1]! | 32
    const suffixed = end - at > 1 && (last === 104 || last === 120) // h or x behind
    if (suffixed) end--
    const hex = identifierHex || prefixed || suffixed
    const id = end - at > MOST_DIGITS ? -1 : wholeNumber(bytes, at, end, hex)
    if (id < 0 || id > 0x1fffffff) return UNREAD
    if (this.#row.has(extended)) return id > STANDARD_MOST || this.#isYes(extended) ? id | EXTENDED : id
    const key = id > STANDARD_MOST || (digitsTell && hex && end - at > STANDARD_DIGITS) ? id | EXTENDED : id
    // where no column tells, the table does
    const other = key ^ EXTENDED
    return !this.#known.has(key) && id <= 0x7ff && this.#known.has(other) ? other : key
  }

  #isYes(column: number): boolean {
    const { bytes, from, to } = this.#row
    if (to[column]! - from[column]! === 1) {
      const digit = bytes[from[column]!]! - 48
      if (digit === 0 || digit === 1) return digit === 1
    }
    return YES.test(this.#row.text(column))
  }

  /** Remote frames and error reports. @returns false where the row is a data frame */
  #special(ownS: number, key: number): boolean {
    const { kind, kindIsRemote } = this.#columns
    if (!this.#row.has(kind)) return false
    const word = this.#row.text(kind)
    if (/rtr|remote|^r$/i.test(word) || (kindIsRemote && /^(1|true|yes)$/i.test(word)))
      this.#outlet.remote(ownS, key, 0)
    else if (/err/i.test(word)) this.#outlet.error(ownS, 0, NOTHING, 0, 0)
    else return false
    return true
  }

  #data(ownS: number, key: number, line: number): void {
    const { bytes, from, to } = this.#row
    const { length } = this.#columns
    const told = this.#row.has(length) ? wholeNumber(bytes, from[length]!, to[length]!) : -1
    const at = this.#outlet.batch.count * 64
    const count = this.#payload.read(this.#row, at, told)
    if (count < 0 || told > MOST_FD_BYTES) {
      this.#skip('rows whose data bytes cannot be read', line)
      return
    }
    if (told >= 0 && count < told) this.#skip('rows with fewer data bytes than their length', line)
    // a length code above 8 stands for more bytes
    const used = told < 0 || FD_LENGTHS[told - 9] === count ? count : Math.min(told, count)
    this.#outlet.data(ownS, key, used > MOST_CLASSIC_BYTES ? FD_FRAME : 0, at, used)
  }
}
