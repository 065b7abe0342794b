import type { FrameColumns } from './frame-csv-columns.ts'
import { TimeTexts, text } from './frame-csv-stamps.ts'
import { FD_FRAME, type FrameOutlet, type SkipCount } from './frame-sink.ts'
import { EXTENDED, type SignalTable } from './signal-table.ts'
import { readTimeText } from './time-text.ts'

/** Bytes for the length codes 9 … 15. Source: ISO 11898-1, from memory. */
const FD_LENGTHS = [12, 16, 20, 24, 32, 48, 64]
const NOTHING = new DataView(new ArrayBuffer(0))
const BLANK = 32
const QUOTE = 34

/** One row of a frame CSV at a time, from bytes to the sink. */
export class FrameLine {
  readonly #columns: FrameColumns
  readonly #outlet: FrameOutlet
  readonly #skips: SkipCount
  readonly #known: ReadonlySet<number>
  readonly #delimiter: number
  readonly #decimalComma: boolean
  readonly #texts: TimeTexts
  /** 64 bytes for each frame of a batch. */
  readonly #payload = new Uint8Array(1024 * 64)
  #at = 0
  readonly #from = new Int32Array(128)
  readonly #to = new Int32Array(128)
  #first = Number.NaN
  #dayText = ''
  #dayS = Number.NaN

  constructor(columns: FrameColumns, table: SignalTable | null, outlet: FrameOutlet, skips: SkipCount) {
    this.#columns = columns
    this.#outlet = outlet
    outlet.useView(new DataView(this.#payload.buffer))
    this.#skips = skips
    this.#known = new Set(table?.signals.map((signal) => signal.key))
    this.#delimiter = columns.delimiter.charCodeAt(0)
    this.#decimalComma = columns.delimiter !== ','
    this.#texts = new TimeTexts(columns.time.order)
  }

  /** The row in bytes[from, to). */
  take(bytes: Uint8Array, from: number, to: number, line: number): void {
    const { identifier, extended, length, kind, data, identifierHex, digitsTell } = this.#columns
    const time = this.#columns.time.column
    const fields = this.#split(bytes, from, to)
    if (fields <= identifier || fields <= time) {
      if (fields > 1) this.#skips.add('rows with too few fields', `line ${line}`)
      return
    }
    const ownS = this.#time(bytes, this.#from[time]!, this.#to[time]!, fields)
    if (Number.isNaN(ownS)) {
      this.#skips.add('rows whose time cannot be read', `line ${line}`)
      return
    }
    const id = this.#identifier(bytes, this.#from[identifier]!, this.#to[identifier]!, identifierHex)
    if (id < 0 || id > 0x1fffffff) {
      this.#skips.add('rows whose identifier cannot be read', `line ${line}`)
      return
    }
    let key = id
    if (extended >= 0 && extended < fields) {
      if (id > 0x7ff || this.#flag(bytes, this.#from[extended]!, this.#to[extended]!)) key = id | EXTENDED
    } else {
      if (id > 0x7ff || (digitsTell && this.#digits > 3)) key = id | EXTENDED
      // where no column tells, the table does
      if (!this.#known.has(key) && id <= 0x7ff && this.#known.has(key ^ EXTENDED)) key ^= EXTENDED
    }
    if (kind >= 0 && kind < fields) {
      const word = text(bytes, this.#from[kind]!, this.#to[kind]!)
      if (/rtr|remote|^r$/i.test(word) || (this.#isRtrColumn && /^(1|true|yes|r)$/i.test(word))) {
        this.#outlet.remote(ownS, key, 0)
        return
      }
      if (/err/i.test(word)) {
        this.#outlet.error(ownS, 0, NOTHING, 0, 0)
        return
      }
    }
    const told =
      length >= 0 && length < fields ? this.#number(bytes, this.#from[length]!, this.#to[length]!) : -1
    this.#at = this.#outlet.batch.count * 64
    const count =
      data.length === 1 ? this.#oneField(bytes, data[0]!, fields) : this.#manyFields(bytes, data, fields)
    if (count < 0 || told > 64) {
      this.#skips.add('rows whose data bytes cannot be read', `line ${line}`)
      return
    }
    if (told >= 0 && count < told)
      this.#skips.add('rows with fewer data bytes than their length', `line ${line}`)
    // a length code above 8 stands for more bytes
    const used = told < 0 || FD_LENGTHS[told - 9] === count ? count : Math.min(told, count)
    this.#outlet.data(ownS, key, used > 8 ? FD_FRAME : 0, this.#at, used)
  }

  #digits = 0

  get #isRtrColumn(): boolean {
    return this.#columns.kindIsRemote
  }

  #split(bytes: Uint8Array, from: number, to: number): number {
    let end = to
    if (end > from && bytes[end - 1] === 13) end--
    let count = 0
    let start = from
    for (let i = from; i <= end; i++) {
      if (i < end && bytes[i] !== this.#delimiter) continue
      if (this.#delimiter === BLANK && i === start) {
        start = i + 1 // a run of blanks parts two fields once
        continue
      }
      if (count === 128) break
      let a = start
      let b = i
      while (a < b && (bytes[a] === BLANK || bytes[a] === QUOTE)) a++
      while (b > a && (bytes[b - 1] === BLANK || bytes[b - 1] === QUOTE)) b--
      this.#from[count] = a
      this.#to[count++] = b
      start = i + 1
    }
    return count
  }

  /** Own time in seconds; NaN where it cannot be read. Plain decimals from bytes, anything else as text. */
  #time(bytes: Uint8Array, from: number, to: number, fields: number): number {
    const { kind, times, over, epoch, dateColumn } = this.#columns.time
    if (kind !== 'number') {
      const day =
        dateColumn >= 0 && dateColumn < fields
          ? this.#day(bytes, this.#from[dateColumn]!, this.#to[dateColumn]!)
          : 0
      return this.#since(this.#texts.seconds(bytes, from, to) + day)
    }
    let whole = 0
    let digits = 0
    let scale = 1
    let dot = false
    for (let i = from; i < to; i++) {
      const c = bytes[i]!
      if (c >= 48 && c <= 57) {
        whole = whole * 10 + c - 48
        digits++
        if (dot) scale *= 10
      } else if (!dot && (c === 46 || (c === 44 && this.#decimalComma))) dot = true
      else digits = 99
    }
    if (digits === 0) return Number.NaN
    // beyond 15 digits, and for signs and exponents, the slow way
    const stamp = digits > 15 ? Number(text(bytes, from, to).replace(',', '.')) : whole / scale
    if (!epoch) return (stamp * times) / over
    if (Number.isNaN(this.#first) && !Number.isNaN(stamp)) this.#first = stamp
    return ((stamp - this.#first) * times) / over
  }

  #day(bytes: Uint8Array, from: number, to: number): number {
    const word = text(bytes, from, to)
    if (word !== this.#dayText) {
      this.#dayText = word
      this.#dayS = readTimeText(word, this.#columns.time.order)?.seconds ?? Number.NaN
    }
    return this.#dayS
  }

  /** Wall clocks count from their first stamp. */
  #since(stamp: number): number {
    if (Number.isNaN(this.#first)) this.#first = stamp
    return Math.round((stamp - this.#first) * 1e7) / 1e7
  }

  /** ISO 8601 of own time 0; null where the log carries no date. */
  startedAt(): string | null {
    const { kind, times, over, epoch, dateColumn } = this.#columns.time
    if (!epoch && kind !== 'stamp' && dateColumn < 0) return null
    const date = new Date(Math.round((epoch ? (this.#first * times) / over : this.#first) * 1000))
    if (Number.isNaN(date.getTime())) return null
    return epoch || this.#texts.zoned ? date.toISOString() : date.toISOString().slice(0, -1)
  }

  #identifier(bytes: Uint8Array, from: number, to: number, hexadecimal: boolean): number {
    let at = from
    let hex = hexadecimal
    if (to - at > 2 && bytes[at] === 48 && (bytes[at + 1]! | 32) === 120) {
      hex = true
      at += 2
    }
    let end = to
    const last = bytes[end - 1]! | 32
    if (end - at > 1 && (last === 104 || last === 120)) {
      hex = true
      end--
    }
    if (end <= at || end - at > 10) return -1
    this.#digits = hex ? end - at : 0
    let value = 0
    for (let i = at; i < end; i++) {
      const digit = hex ? hexDigit(bytes[i]!) : decimalDigit(bytes[i]!)
      if (digit < 0) return -1
      value = value * (hex ? 16 : 10) + digit
    }
    return value
  }

  #number(bytes: Uint8Array, from: number, to: number): number {
    let value = 0
    if (to <= from) return -1
    for (let i = from; i < to; i++) {
      const digit = decimalDigit(bytes[i]!)
      if (digit < 0) return -1
      value = value * 10 + digit
    }
    return value
  }

  #flag(bytes: Uint8Array, from: number, to: number): boolean {
    if (to - from === 1) {
      const c = bytes[from]! | 32
      return bytes[from] === 49 || c === 120 || c === 101 || c === 116 || c === 121
    }
    return /^(true|yes|ext|extended|29.*|xtd|eff)$/i.test(text(bytes, from, to))
  }

  /** `0102…`, `01 02 …`, `0x01 0x02 …`, `0x0102…` or decimals with blanks. @returns bytes, −1 where unreadable */
  #oneField(bytes: Uint8Array, column: number, fields: number): number {
    if (column >= fields) return 0
    let count = 0
    let at = this.#from[column]!
    // data bytes split by the delimiter itself run on into the fields after it
    const to = this.#to[fields - 1]!
    const end = this.#columns.dataRunsOn ? to : this.#to[column]!
    while (at < end) {
      const c = bytes[at]!
      if (hexDigit(c) < 0) {
        at++
        if (c > 32 && c !== 45 && c !== 58 && c !== 124 && c !== this.#delimiter && c !== 91 && c !== 93)
          return -1
        continue
      }
      let stop = at
      while (stop < end && (hexDigit(bytes[stop]!) >= 0 || (stop === at + 1 && (bytes[stop]! | 32) === 120)))
        stop++
      const added = this.#token(bytes, at, stop, count)
      if (added < 0) return -1
      count += added
      at = stop
    }
    return count
  }

  #manyFields(bytes: Uint8Array, columns: readonly number[], fields: number): number {
    let count = 0
    for (const column of columns) {
      if (column >= fields) break
      const from = this.#from[column]!
      const to = this.#to[column]!
      if (to <= from) break
      const added = this.#token(bytes, from, to, count)
      if (added !== 1) return -1
      count++
    }
    return count
  }

  #token(bytes: Uint8Array, from: number, to: number, count: number): number {
    let at = from
    const prefixed = to - at > 2 && bytes[at] === 48 && (bytes[at + 1]! | 32) === 120
    if (prefixed) at += 2
    if (prefixed || this.#columns.dataHex) {
      const digits = to - at
      if (digits <= 2) {
        if (count >= 64) return -1
        let value = 0
        for (let i = at; i < to; i++) {
          const digit = hexDigit(bytes[i]!)
          if (digit < 0) return -1
          value = value * 16 + digit
        }
        this.#payload[this.#at + count] = value
        return 1
      }
      if (digits % 2 !== 0 || count + digits / 2 > 64) return -1
      for (let k = 0; k < digits / 2; k++) {
        const high = hexDigit(bytes[at + 2 * k]!)
        const low = hexDigit(bytes[at + 2 * k + 1]!)
        if (high < 0 || low < 0) return -1
        this.#payload[this.#at + count + k] = high * 16 + low
      }
      return digits / 2
    }
    const value = this.#number(bytes, at, to)
    if (value < 0 || value > 255 || count >= 64) return -1
    this.#payload[this.#at + count] = value
    return 1
  }
}

const decimalDigit = (c: number): number => (c >= 48 && c <= 57 ? c - 48 : -1)

function hexDigit(c: number): number {
  if (c >= 48 && c <= 57) return c - 48
  const low = c | 32
  return low >= 97 && low <= 102 ? low - 87 : -1
}
