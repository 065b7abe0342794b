import { robustSpread } from './stats.ts'

/** Noise of single samples (standard deviation) from second differences, which a steadily moving value leaves at zero. */
export function jitter(values: ArrayLike<number>): number {
  const second: number[] = []
  for (let i = 2; i < values.length; i++) second.push(values[i]! - 2 * values[i - 1]! + values[i - 2]!)
  return robustSpread(second) / Math.sqrt(6)
}
