import type { Message } from './captured.ts'

/**
 * How the bits of a message flip from row to row.
 *
 *     flips[8k + b]   rows in which bit b of byte k is not as in the row before
 *     carries[8k + b] of the flips of bit b + 1: those in which bit b flipped the other way (a carry of one number)
 *     alike[8k + b]   … and those in which bit b flipped the same way (a number that crosses zero)
 *     ones[8k + b]    rows in which it is 1
 */
export interface Flips {
  readonly pairs: number
  readonly flips: Uint32Array
  readonly carries: Uint32Array
  readonly alike: Uint32Array
  readonly ones: Uint32Array
}

export function countFlips({ data, stride, bytes, count }: Message): Flips {
  const flips = new Uint32Array(8 * bytes)
  const carries = new Uint32Array(8 * bytes)
  const alike = new Uint32Array(8 * bytes)
  const ones = new Uint32Array(8 * bytes)
  const changed = new Uint32Array(256)
  const carried = new Uint32Array(256)
  const same = new Uint32Array(256)
  const seen = new Uint32Array(256)
  for (let k = 0; k < bytes; k++) {
    changed.fill(0)
    carried.fill(0)
    same.fill(0)
    seen.fill(0)
    let before = data[k]!
    seen[before]!++
    for (let i = 1, at = k + stride; i < count; i++, at += stride) {
      const now = data[at]!
      seen[now]!++
      if (now === before) continue
      const up = now & ~before
      const down = before & ~now
      changed[now ^ before]!++
      carried[((up >> 1) & down) | ((down >> 1) & up)]!++
      same[((up >> 1) & up) | ((down >> 1) & down)]!++
      before = now
    }
    spread(changed, flips, k)
    spread(carried, carries, k)
    spread(same, alike, k)
    spread(seen, ones, k)
  }
  return { pairs: Math.max(0, count - 1), flips, carries, alike, ones }
}

/** Counts of byte values → counts of their bits. */
function spread(counts: Uint32Array, bits: Uint32Array, k: number): void {
  for (let value = 1; value < 256; value++) {
    const count = counts[value]!
    if (count === 0) continue
    for (let b = 0; b < 8; b++) if ((value >> b) & 1) bits[8 * k + b]! += count
  }
}
