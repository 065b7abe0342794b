import type { Field } from '../importers/frames/signal.ts'
import type { Message } from './captured.ts'
import type { Flips } from './flips.ts'
import { rawValues } from './raw-values.ts'

/** A field that goes up by one a frame and begins again behind `highest`. */
export interface Counter extends Field {
  readonly highest: number
  /** Frames in which it went as it should, of all. */
  readonly share: number
}

/** Rows that must step as a counter does; frames are lost. Round figure, no source. */
const STEPS = 0.9
const LEAST_ROWS = 24

/**
 * Fields that count frames: the lowest bit flips nearly every frame, each higher one half as often.
 * Blind: a counter that lost more than a tenth of its frames; one that counts something else than frames.
 */
export function findCounters(message: Message, { flips, pairs }: Flips): Counter[] {
  const found: Counter[] = []
  const taken = new Set<number>()
  if (message.count < LEAST_ROWS) return found
  for (let bit = 0; bit < flips.length; bit++) {
    if (taken.has(bit) || flips[bit]! < 0.8 * pairs) continue
    const counter = longest(message, flips, bit, 'little') ?? longest(message, flips, bit, 'big')
    if (!counter) continue
    found.push(counter)
    for (let b = bit; b <= (bit | 7); b++) taken.add(b)
  }
  return found
}

function longest(message: Message, flips: Uint32Array, bit: number, byteOrder: 'little' | 'big') {
  let best: Counter | null = null
  let at = bit
  let expected = flips[bit]!
  for (let length = 1; length <= 16; length++) {
    if (length > 1) {
      at = (at & 7) === 7 ? (byteOrder === 'little' ? at + 1 : at - 15) : at + 1
      expected /= 2
      if (at < 0 || at >= flips.length) break
      const seen = flips[at]!
      if (Math.abs(seen - expected) > 0.3 * expected + 2) break
    }
    if (length < 2) continue
    // named from its highest bit where big; within one byte the orders are alike
    const inByte = at >> 3 === bit >> 3
    const field: Field =
      byteOrder === 'little' || inByte
        ? { startBit: bit, length, byteOrder: 'little' }
        : { startBit: at, length, byteOrder: 'big' }
    const counter = counts(message, field)
    if (counter) best = counter
  }
  return best
}

/** Does the field step by one from row to row, beginning again at 0 (or 1)? */
function counts(message: Message, field: Field): Counter | null {
  const raw = rawValues(message, { ...field, signed: false })
  let highest = 0
  for (const value of raw) highest = Math.max(highest, value)
  if (highest < 2 ** (field.length - 1)) return null
  let right = 0
  let wraps = 0
  for (let i = 1; i < raw.length; i++) {
    const step = raw[i]! - raw[i - 1]!
    if (step === 1) right++
    else if (raw[i - 1] === highest && raw[i]! <= 1) {
      right++
      wraps++
    }
  }
  const share = right / (raw.length - 1)
  return share >= STEPS && wraps > 0 ? { ...field, highest, share } : null
}
