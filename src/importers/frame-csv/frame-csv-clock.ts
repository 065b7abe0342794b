import { hexCount } from '../time/time-columns.ts'
import { readTimeText } from '../time/time-text.ts'
import type { RowFields } from './frame-csv-fields.ts'
import { TimeTexts } from './frame-csv-stamps.ts'
import type { FrameTime } from './frame-csv-time.ts'

/** Signs, exponents, many digits, a unit behind: `1.8173 sec`. */
const slowly = (text: string): number => Number(text.replace(',', '.').replace(/(?<=\d)\s*[a-zµ]+$/i, ''))

/** A row's time → own time: seconds as written, or since the first stamp for wall clocks. */
export class RowClock {
  readonly #plan: FrameTime
  readonly #decimalComma: boolean
  readonly #texts: TimeTexts
  #first = Number.NaN
  #dayText = ''
  #dayS = Number.NaN

  constructor(plan: FrameTime, decimalComma: boolean) {
    this.#plan = plan
    this.#decimalComma = decimalComma
    this.#texts = new TimeTexts(plan.order)
  }

  /** NaN where the time cannot be read. Plain decimals from bytes, anything else as text. */
  ownS(row: RowFields): number {
    const { column, kind, times, over, epoch, dateColumn } = this.#plan
    if (kind !== 'number' && kind !== 'hex') {
      const day = row.has(dateColumn) ? this.#day(row.text(dateColumn)) : 0
      const stamp = this.#texts.seconds(row.bytes, row.from[column]!, row.to[column]!) + day
      if (Number.isNaN(this.#first)) this.#first = stamp
      return Math.round((stamp - this.#first) * 1e7) / 1e7
    }
    const stamp = kind === 'hex' ? hexCount(row.text(column)) : this.#decimal(row, column)
    if (!epoch) return (stamp * times) / over
    if (Number.isNaN(this.#first)) this.#first = stamp
    return ((stamp - this.#first) * times) / over
  }

  /** ISO 8601 of own time 0; null where the log carries no date. */
  startedAt(): string | null {
    const { kind, times, over, epoch, dateColumn } = this.#plan
    if (!epoch && kind !== 'stamp' && dateColumn < 0) return null
    const date = new Date(Math.round((epoch ? (this.#first * times) / over : this.#first) * 1000))
    if (Number.isNaN(date.getTime())) return null
    return epoch || this.#texts.zoned ? date.toISOString() : date.toISOString().slice(0, -1)
  }

  #decimal(row: RowFields, column: number): number {
    const { bytes } = row
    const to = row.to[column]!
    let whole = 0
    let digits = 0
    let scale = 1
    let dot = false
    for (let i = row.from[column]!; i < to; i++) {
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
    return digits > 15 ? slowly(row.text(column)) : whole / scale
  }

  #day(word: string): number {
    if (word !== this.#dayText) {
      this.#dayText = word
      this.#dayS = readTimeText(word, this.#plan.order)?.seconds ?? Number.NaN
    }
    return this.#dayS
  }
}
