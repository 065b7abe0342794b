import type { Field, Signal } from './signal.ts'
import { lastByte } from './signal-table.ts'

/**
 * A signal's place in a payload of 32-bit words, compiled once.
 *
 *     little endian, words as they come        big endian, each word's bytes turned round
 *     … word 1 │ word 0                        word 0 │ word 1 …
 *           └──────── low, shift                    └──── low, shift      (shift counts from the lowest bit)
 *
 * `low` is the word with the signal's lowest bit, `low + step` the next higher one.
 */
export interface Place {
  readonly low: number
  readonly step: 1 | -1
  readonly shift: number
  readonly length: number
  /** Bytes that a frame must have for the signal to be in it. */
  readonly bytes: number
}

export function placeOf(field: Field): Place {
  const { startBit, length } = field
  const bytes = lastByte(field) + 1
  if (field.byteOrder === 'little')
    return { low: startBit >> 5, step: 1, shift: startBit & 31, length, bytes }
  const lowest = (startBit >> 3) * 8 + (7 - (startBit & 7)) + length - 1 // counted from the payload's first bit
  return { low: lowest >> 5, step: -1, shift: 31 - (lowest & 31), length, bytes }
}

/** Turns each word's bytes round: the big-endian view of words read little-endian. */
export function turnRound(words: Uint32Array, turned: Uint32Array, count: number): void {
  for (let i = 0; i < count; i++) {
    const word = words[i]!
    turned[i] = (word << 24) | ((word & 0xff00) << 8) | ((word >>> 8) & 0xff00) | (word >>> 24)
  }
}

/**
 * Decodes one signal from `count` payloads that lie `stride` words apart: out[from + i] = raw · factor + offset.
 * Shifts on 32-bit halves; a signal over 32 bits keeps what a double can (53 bits, rounded to nearest).
 */
export function extract(
  place: Place,
  signed: boolean,
  factor: number,
  offset: number,
  words: Uint32Array,
  stride: number,
  count: number,
  out: Float64Array,
  from: number,
): void {
  const { shift, length } = place
  const low = place.low
  if (shift + length <= 32) {
    const left = 32 - shift - length
    const right = 32 - length
    if (signed)
      for (let i = 0, at = low; i < count; i++, at += stride)
        out[from + i] = ((words[at]! << left) >> right) * factor + offset
    else
      for (let i = 0, at = low; i < count; i++, at += stride)
        out[from + i] = ((words[at]! << left) >>> right) * factor + offset
    return
  }
  const high = place.step
  const up = 32 - shift
  if (length <= 32) {
    const right = 32 - length
    for (let i = 0, at = low; i < count; i++, at += stride) {
      const raw = ((words[at]! >>> shift) | (words[at + high]! << up)) << right
      out[from + i] = (signed ? raw >> right : raw >>> right) * factor + offset
    }
    return
  }
  const right = 64 - length
  const third = shift + length > 64 ? 2 * high : 0
  for (let i = 0, at = low; i < count; i++, at += stride) {
    const middle = words[at + high]!
    const bottom = shift === 0 ? words[at]! : (words[at]! >>> shift) | (middle << up)
    const top = shift === 0 ? middle : (middle >>> shift) | (third !== 0 ? words[at + third]! << up : 0)
    const signedTop = signed ? (top << right) >> right : (top << right) >>> right
    out[from + i] = (signedTop * 4294967296 + (bottom >>> 0)) * factor + offset
  }
}

/** Decodes a signal as `extract`; raw values listed as invalid become NaN. @returns how many did */
export function extractSignal(
  signal: Signal,
  place: Place,
  words: Uint32Array,
  stride: number,
  count: number,
  out: Float64Array,
  from: number,
): number {
  const { signed, factor, offset, invalid } = signal
  if (invalid.length === 0) {
    extract(place, signed, factor, offset, words, stride, count, out, from)
    return 0
  }
  extract(place, signed, 1, 0, words, stride, count, out, from)
  let lost = 0
  for (let i = from; i < from + count; i++) {
    const raw = out[i]!
    if (invalid.includes(raw)) {
      out[i] = Number.NaN
      lost++
    } else out[i] = raw * factor + offset
  }
  return lost
}

/** One small field of one payload, unsigned, for selectors; −1 where the payload is too short. At most 32 bits. */
export function readField(field: Field, bytes: DataView, at: number, length: number): number {
  const last = lastByte(field)
  if (last >= length) return -1
  const first = field.startBit >> 3
  let raw = 0
  if (field.byteOrder === 'little')
    for (let k = last; k >= first; k--) raw = raw * 256 + bytes.getUint8(at + k)
  else for (let k = first; k <= last; k++) raw = raw * 256 + bytes.getUint8(at + k)
  const drop =
    field.byteOrder === 'little'
      ? field.startBit & 7
      : 7 - ((7 - (field.startBit & 7) + field.length - 1) & 7)
  return Math.floor(raw / 2 ** drop) % 2 ** field.length
}
