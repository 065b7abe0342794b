import type { FrameColumns } from './frame-csv-columns.ts'
import { hexDigit, isPrefixed, type RowFields, wholeNumber } from './frame-csv-fields.ts'

/** Source: ISO 11898-1. */
const MOST_CLASSIC_BYTES = 8

const MOST = 64

/** Data bytes of a row as its log writes them → bytes. */
export class RowPayload {
  /** 64 bytes for each frame of a batch. */
  readonly bytes = new Uint8Array(1024 * MOST)
  readonly #columns: FrameColumns
  #at = 0

  constructor(columns: FrameColumns) {
    this.#columns = columns
  }

  /**
   * Writes the row's data bytes from `at` on.
   * @param told bytes that the row's length tells; −1 where it does not
   * @returns how many; −1 where they cannot be read
   */
  read(row: RowFields, at: number, told: number): number {
    const { data, dataRunsOn } = this.#columns
    this.#at = at
    if (data.length > 1) return this.#manyFields(row, data)
    // Where bytes run on, other columns may stand behind the last: the row's length tells where they begin.
    return this.#oneField(row, data[0]!, dataRunsOn && told >= 0 && told <= MOST_CLASSIC_BYTES ? told : MOST)
  }

  /** `0102…`, `01 02 …`, `0x01 0x02 …`, `0x0102…` or decimals with blanks. */
  #oneField(row: RowFields, column: number, most: number): number {
    if (!row.has(column)) return 0
    const { bytes } = row
    // bytes split by the delimiter itself run on into the fields after it
    const end = row.to[this.#columns.dataRunsOn ? row.count - 1 : column]!
    let count = 0
    let at = row.from[column]!
    while (at < end && count < most) {
      if (hexDigit(bytes[at]!) < 0) {
        if (!this.#parts(bytes[at]!)) return -1
        at++
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

  /** Signs that may stand between two bytes: blanks, , - : | [ ] and the delimiter. */
  #parts(c: number): boolean {
    return (
      c <= 32 ||
      c === 44 ||
      c === 45 ||
      c === 58 ||
      c === 124 ||
      c === 91 ||
      c === 93 ||
      c === this.#columns.delimiter.charCodeAt(0)
    )
  }

  #manyFields(row: RowFields, columns: readonly number[]): number {
    let count = 0
    for (const column of columns) {
      if (!row.has(column) || row.to[column]! <= row.from[column]!) break
      if (this.#token(row.bytes, row.from[column]!, row.to[column]!, count) !== 1) return -1
      count++
    }
    return count
  }

  /** One byte, or a run of hex digits two a byte. @returns bytes added; −1 where it is neither */
  #token(bytes: Uint8Array, from: number, to: number, count: number): number {
    const prefixed = isPrefixed(bytes, from, to)
    const at = prefixed ? from + 2 : from
    const hex = prefixed || this.#columns.dataHex
    if (hex && to - at > 2) {
      const added = (to - at) / 2
      if (!Number.isInteger(added) || count + added > MOST) return -1
      for (let k = 0; k < added; k++) {
        const byte = wholeNumber(bytes, at + 2 * k, at + 2 * k + 2, true)
        if (byte < 0) return -1
        this.bytes[this.#at + count + k] = byte
      }
      return added
    }
    const byte = wholeNumber(bytes, at, to, hex)
    if (byte < 0 || byte > 255 || count >= MOST) return -1
    this.bytes[this.#at + count] = byte
    return 1
  }
}
