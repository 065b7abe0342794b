const BLANK = 32
const HASH = 35
const MOST = 128

/** Blank, quote, ( ) [ ]. */
const around = (c: number): boolean => c === BLANK || c === 34 || c === 40 || c === 41 || c === 91 || c === 93

/** The fields of one row of bytes, not copied: field i is bytes[from[i], to[i]) without blanks, quotes and brackets around. */
export class RowFields {
  bytes: Uint8Array = new Uint8Array(0)
  count = 0
  readonly from = new Int32Array(MOST)
  readonly to = new Int32Array(MOST)
  readonly #delimiter: number
  /** Parts two fields as well; −1: nothing does. */
  readonly #second: number

  /** @param delimiter `#`: blanks, and a `#` */
  constructor(delimiter: string) {
    this.#delimiter = delimiter === '#' ? BLANK : delimiter.charCodeAt(0)
    this.#second = delimiter === '#' ? HASH : -1
  }

  split(bytes: Uint8Array, from: number, to: number): void {
    const delimiter = this.#delimiter
    const second = this.#second
    const end = to > from && bytes[to - 1] === 13 ? to - 1 : to
    this.bytes = bytes
    this.count = 0
    let start = from
    for (let i = from; i <= end && this.count < MOST; i++) {
      if (i < end && bytes[i] !== delimiter && bytes[i] !== second) continue
      if (delimiter === BLANK && i === start) {
        start = i + 1 // a run of blanks parts two fields once
        continue
      }
      let a = start
      let b = i
      while (a < b && around(bytes[a]!)) a++
      while (b > a && around(bytes[b - 1]!)) b--
      this.from[this.count] = a
      this.to[this.count++] = b
      start = i + 1
    }
  }

  has(column: number): boolean {
    return column >= 0 && column < this.count
  }

  /** At most 64 characters of a field; '' where the row has no such field. */
  text(column: number): string {
    if (!this.has(column)) return ''
    const from = this.from[column]!
    return String.fromCharCode(...this.bytes.subarray(from, Math.min(this.to[column]!, from + 64)))
  }
}

const decimalDigit = (c: number): number => (c >= 48 && c <= 57 ? c - 48 : -1)

export function hexDigit(c: number): number {
  if (c >= 48 && c <= 57) return c - 48
  const low = c | 32
  return low >= 97 && low <= 102 ? low - 87 : -1
}

/** Does bytes[at, to) begin with `0x`? */
export const isPrefixed = (bytes: Uint8Array, at: number, to: number): boolean =>
  to - at > 2 && bytes[at] === 48 && (bytes[at + 1]! | 32) === 120

/** The whole number in bytes[from, to); −1 where it is none. */
export function wholeNumber(bytes: Uint8Array, from: number, to: number, hex = false): number {
  if (to <= from) return -1
  let value = 0
  for (let i = from; i < to; i++) {
    const digit = hex ? hexDigit(bytes[i]!) : decimalDigit(bytes[i]!)
    if (digit < 0) return -1
    value = value * (hex ? 16 : 10) + digit
  }
  return value
}
