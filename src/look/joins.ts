import type { Message } from './captured.ts'
import type { Run } from './runs.ts'

/** Rows in which the upper byte changes that are looked at, and the least that tell. */
const ROWS = 3000
const LEAST = 4
/** A join must take away at least this share of the movement that two strangers would show. study:look, 27 November 2026. */
const JOINED = 0.75

/**
 * Do two bytes hold one number? Where the upper part changes by one, the lower one wraps: joined, the number moves less
 * than with the lower part taken from another moment.
 *
 *     lower  250 254   3   7        joined   250 254 259 263        moves by 4 each
 *     upper    0   0   1   1        strangers: moves by 256 now and then
 *
 * @param lower a run that reaches bit 7 of its byte
 * @param upper a run that begins at bit 0
 * @returns movement joined ÷ movement of strangers (first or second differences); null where the upper part moves too seldom
 */
export function joinRatio(message: Message, lower: Run, upper: Run): number | null {
  const { data, stride, count } = message
  const size = 2 ** (lower.high - lower.low + 1)
  const lowMask = size - 1
  const span = 2 ** (upper.high + 1)
  const at = (row: number, shift: number, signed: boolean): number => {
    let high = data[row * stride + upper.byte]! & (span - 1)
    if (signed && high >= span / 2) high -= span
    return high * size + ((data[shift * stride + lower.byte]! >> lower.low) & lowMask)
  }
  const changes: number[] = []
  let before = data[upper.byte]! & (span - 1)
  for (let i = 1; i < count; i++) {
    const now = data[i * stride + upper.byte]! & (span - 1)
    if (now !== before) changes.push(i)
    before = now
  }
  if (changes.length < LEAST) return null
  const step = Math.max(1, Math.floor(changes.length / ROWS))
  const highAt = (row: number): number => data[row * stride + upper.byte]! & (span - 1)
  let best = Number.POSITIVE_INFINITY
  for (const signed of [false, true]) {
    let pairs = 0
    let first = 0
    let firstOther = 0
    let second = 0
    let secondOther = 0
    const far = 1.5 * size
    const add = (moved: number): number => Math.min(far, Math.abs(moved))
    for (let c = 0; c < changes.length; c += step) {
      const i = changes[c]!
      const moved = at(i, i, signed) - at(i - 1, i - 1, signed)
      if (Math.abs(moved) > 3 * size) continue
      const other = quiet(highAt, i, count)
      pairs++
      first += add(moved)
      firstOther += add(at(i, other, signed) - at(i - 1, other - 1, signed))
      if (i < 2 || other < 2) continue
      second += add(moved - at(i - 1, i - 1, signed) + at(i - 2, i - 2, signed))
      secondOther += add(
        at(i, other, signed) - 2 * at(i - 1, other - 1, signed) + at(i - 2, other - 2, signed),
      )
    }
    if (pairs < LEAST) continue
    if (firstOther > 0) best = Math.min(best, first / firstOther)
    if (secondOther > 0) best = Math.min(best, second / secondOther)
  }
  return Number.isFinite(best) ? best : null
}

/** A row soon after `i` at which the upper part stands still; else one some way off. */
function quiet(highAt: (row: number) => number, i: number, count: number): number {
  for (let row = i + 3; row < Math.min(count, i + 40); row++) if (highAt(row) === highAt(row - 1)) return row
  return i + 17 < count ? i + 17 : Math.max(1, i - 17)
}

export const isJoined = (ratio: number | null): boolean => ratio !== null && ratio < JOINED
