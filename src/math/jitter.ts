import { robustSpread } from './stats.ts'

/** Noise of single samples (standard deviation) from second differences, which a steadily moving value leaves at zero. */
export function jitter(values: ArrayLike<number>): number {
  const second = new Float64Array(Math.max(0, values.length - 2))
  for (let i = 2; i < values.length; i++) second[i - 2] = values[i]! - 2 * values[i - 1]! + values[i - 2]!
  return robustSpread(second) / Math.sqrt(6)
}
