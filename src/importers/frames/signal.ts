export type ByteOrder = 'little' | 'big'

/** Where a whole number lies in a payload: `startBit` is its lowest bit when little, its highest when big. */
export interface Field {
  readonly startBit: number
  readonly length: number
  readonly byteOrder: ByteOrder
}

/** One signal: value = raw · factor + offset, in `unit`. */
export interface Signal extends Field {
  /** 1 for the table's first signal: what errors name. */
  readonly row: number
  /** Identifier; bit 31 set (so: negative) for extended ones. */
  readonly key: number
  readonly node: string | null
  readonly name: string
  readonly channel: string | null
  readonly signed: boolean
  readonly factor: number
  readonly offset: number
  readonly unit: string | null
  /** The signal is there only in frames whose selector field holds `value`; null: always. */
  readonly selector: { readonly field: Field; readonly value: number } | null
  /** Raw values that mean "no value". */
  readonly invalid: readonly number[]
  readonly periodS: number | null
}

export interface SignalTable {
  readonly name: string
  readonly signals: readonly Signal[]
  /** bit/s, where the table says. */
  readonly bitRate: number | null
  /** What its file says and a signal table cannot, in sentences. */
  readonly notes?: readonly string[]
}

/** Bit 31 of a key tells an extended identifier from a standard one with the same number. */
export const EXTENDED = -0x80000000

/** `0x123`, or `0x18FEF100` with eight digits for an extended identifier. */
export function identifierText(key: number): string {
  const digits = (key & 0x1fffffff).toString(16).toUpperCase()
  return `0x${key < 0 ? digits.padStart(8, '0') : digits.padStart(3, '0')}`
}
