import { type DayOrder, readTimeText } from '../time/time-text.ts'

/**
 * Times as text, row after row. Rows of one second share all but the fraction, so that only the first is parsed:
 *
 *     2026-03-14 09:12:33.250      known up to the point, then digits: + 0.250 s
 */
export class TimeTexts {
  /** The first stamp carried a zone. */
  zoned = false
  readonly #order: DayOrder
  #known = new Uint8Array(0)
  #knownS = Number.NaN
  #first = true

  constructor(order: DayOrder) {
    this.#order = order
  }

  /** Seconds on the file's one scale (`readTimeText`); NaN where the text is no time. */
  seconds(bytes: Uint8Array, from: number, to: number): number {
    const known = this.#known
    const cut = from + known.length
    if (known.length > 0 && cut < to && (bytes[cut] === 46 || bytes[cut] === 44)) {
      let same = true
      for (let i = 0; same && i < known.length; i++) same = bytes[from + i] === known[i]
      let fraction = 0
      let scale = 1
      for (let i = cut + 1; same && i < to; i++) {
        const digit = bytes[i]! - 48
        same = digit >= 0 && digit <= 9
        fraction = fraction * 10 + digit
        scale *= 10
      }
      if (same) return this.#knownS + fraction / scale
    }
    return this.#parse(bytes, from, to)
  }

  #parse(bytes: Uint8Array, from: number, to: number): number {
    const written = String.fromCharCode(...bytes.subarray(from, Math.min(to, from + 64)))
    const read = readTimeText(written, this.#order)
    if (!read) return Number.NaN
    if (this.#first) {
      this.#first = false
      this.zoned = read.zone !== null
    }
    const point = /:\d{2}[.,]\d+$/.test(written)
      ? Math.max(written.lastIndexOf('.'), written.lastIndexOf(','))
      : -1
    this.#known = point > 0 && read.kind !== 'minutes' ? bytes.slice(from, from + point) : new Uint8Array(0)
    if (point > 0) this.#knownS = Math.round(read.seconds - Number(`0.${written.slice(point + 1)}`))
    return read.seconds
  }
}
