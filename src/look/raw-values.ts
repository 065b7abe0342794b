import type { Field } from '../importers/frames/signal.ts'
import { extract, placeOf, turnRound } from '../importers/frames/signal-extract.ts'
import type { Message } from './captured.ts'

/** A whole number in a payload, and how its bits are meant. */
export interface NumberField extends Field {
  readonly signed: boolean
}

/** The field's raw value in each row. */
export function rawValues(message: Message, field: NumberField): Float64Array {
  const words = new Uint32Array(message.data.buffer, message.data.byteOffset, message.data.length >> 2)
  let seen = words
  if (field.byteOrder === 'big') {
    seen = new Uint32Array(words.length)
    turnRound(words, seen, words.length)
  }
  const out = new Float64Array(message.count)
  extract(placeOf(field), field.signed, 1, 0, seen, message.stride >> 2, message.count, out, 0)
  return out
}

/** Numbers (8 · byte + bit) of the field's bits, lowest first. */
export function bitsOf(field: Field): number[] {
  if (field.byteOrder === 'little') return Array.from({ length: field.length }, (_, i) => field.startBit + i)
  const bits: number[] = []
  let bit = field.startBit
  for (let i = 0; i < field.length; i++) {
    bits.push(bit)
    bit = (bit & 7) === 0 ? bit + 15 : bit - 1
  }
  return bits.reverse()
}
