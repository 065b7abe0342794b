import type { Flips } from './flips.ts'

/** Neighbouring bits of one byte that belong to one number, or one bit alone. */
export interface Run {
  readonly byte: number
  readonly low: number
  readonly high: number
}

/** Flips below which chance decides, and below which a bit moves seldom. Round figures, no source. */
const FEW = 4
export const SELDOM = 12

/**
 * The runs of a byte: bit b + 1 follows bit b where its flips are carries of b (b flips the other way), or both flip alike
 * (a number that crosses zero), or both are noise. Bits that never flip end a run.
 * @param without bits that are explained already, by byte
 */
export function runsOf(flips: Flips, byte: number, without: number): Run[] {
  const runs: Run[] = []
  let low = -1
  // switches that move together are no number: somewhere a carry must be
  const close = (high: number): void => {
    const carried = flips.carries.subarray(8 * byte + low, 8 * byte + high).some((each) => each > 0)
    const sign = high - low >= 3
    if (carried || sign || low === high) runs.push({ byte, low, high })
    else for (let b = low; b <= high; b++) runs.push({ byte, low: b, high: b })
  }
  for (let b = 0; b < 8; b++) {
    const active = flips.flips[8 * byte + b]! > 0 && ((without >> b) & 1) === 0
    if (!active) {
      if (low >= 0) close(b - 1)
      low = -1
      continue
    }
    if (low >= 0 && !follows(flips, 8 * byte + b - 1, b - low)) {
      close(b - 1)
      low = b
    } else if (low < 0) low = b
  }
  if (low >= 0) close(7)
  return runs
}

/** Is bit `at` + 1 the next higher bit of the number that bit `at` is in, `length` bits long so far? */
function follows({ flips, carries, alike, pairs }: Flips, at: number, length: number): boolean {
  const higher = flips[at + 1]!
  const lower = flips[at]! / pairs
  const carried = carries[at]! / higher
  const together = (carries[at]! + alike[at]!) / higher
  if (higher < FEW && together === 1 && (carries[at]! > 0 || length > 1)) return true
  // above a number of some bits stand its highest ones, which move seldom
  if (higher < SELDOM && length >= 3 && higher <= flips[at]!) return true
  if (higher < FEW) return false
  const chance = Math.sqrt((lower * (1 - lower)) / higher)
  if (carried > lower / 2 + Math.max(0.08, 3 * Math.sqrt(lower / 2 / higher))) return true
  if (together > lower + Math.max(0.15, 5 * chance)) return true
  // two bits of noise: the higher one flips no more often
  return lower > 0.3 && higher / pairs > 0.2 && higher / pairs < 1.08 * lower + 3 * Math.sqrt(0.25 / pairs)
}
