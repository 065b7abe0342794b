import type { Message } from './captured.ts'

/** Letters and digits in a row from which bytes are a text and not a chance. */
const LEAST = 4
/** Printable ASCII that names, numbers of parts and vehicle identification numbers are made of. */
const isLetter = (byte: number): boolean =>
  (byte >= 0x30 && byte <= 0x39) || (byte >= 0x41 && byte <= 0x5a) || (byte >= 0x61 && byte <= 0x7a)
const isText = (byte: number): boolean => isLetter(byte) || byte === 0x20 || (byte >= 0x2d && byte <= 0x2f)

/**
 * A stretch of bytes that are letters or digits in every frame. Bytes that move smoothly inside the letters' range are
 * ruled out: a text changes now and then or not at all.
 */
export function textOfBytes(
  message: Message,
  without: Uint8Array,
): { readonly byte: number; readonly length: number; readonly text: string } | null {
  const { data, stride, count, bytes } = message
  const step = Math.max(1, Math.floor(count / 500))
  let from = -1
  let best: { byte: number; length: number } | null = null
  for (let k = 0; k <= bytes; k++) {
    let text = k < bytes && without[k] === 0
    let changes = 0
    for (let i = 0; text && i < count; i += step) {
      text = isText(data[i * stride + k]!)
      if (i >= step && data[i * stride + k] !== data[(i - step) * stride + k]) changes++
    }
    if (text && changes > 0.05 * (count / step)) text = false
    if (text && from < 0) from = k
    if (!text && from >= 0) {
      if (k - from >= LEAST && k - from > (best?.length ?? 0)) best = { byte: from, length: k - from }
      from = -1
    }
  }
  if (!best) return null
  const { byte, length } = best
  const text = Array.from(data.subarray(byte, byte + length), (each) => String.fromCharCode(each)).join('')
  // digits alone could be numbers that stand still
  return /[A-Za-z]{2}/.test(text) ? { ...best, text } : null
}
