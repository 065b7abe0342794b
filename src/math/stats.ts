/**
 * Order statistics and robust spread. NaN entries are left out everywhere; an empty input gives NaN, never 0.
 */

/** The finite entries, ascending, as a fresh array. */
export function sortedFinite(values: ArrayLike<number>): Float64Array {
  let count = 0
  for (let i = 0; i < values.length; i++) if (Number.isFinite(values[i])) count++
  const kept = new Float64Array(count)
  for (let i = 0, at = 0; i < values.length; i++) if (Number.isFinite(values[i])) kept[at++] = values[i]!
  return kept.sort()
}

/** Quantile of ascending values by linear interpolation between order statistics (the R-7 rule). */
export function quantileSorted(sorted: ArrayLike<number>, share: number): number {
  if (sorted.length === 0) return Number.NaN
  const at = (sorted.length - 1) * share
  const below = Math.floor(at)
  const low = sorted[below]!
  const high = sorted[Math.min(below + 1, sorted.length - 1)]!
  return low + (high - low) * (at - below)
}

export function quantile(values: ArrayLike<number>, share: number): number {
  return quantileSorted(sortedFinite(values), share)
}

export function median(values: ArrayLike<number>): number {
  return quantile(values, 0.5)
}

/**
 * 1 / Φ⁻¹(3/4): makes the median absolute deviation estimate a normal spread.
 * Source: SciPy and statsmodels documentation of `mad`.
 */
export const MAD_TO_SIGMA = 1.482602218505602

/** Robust standard deviation: median absolute deviation from the median, scaled for normal noise. */
export function robustSpread(values: ArrayLike<number>): number {
  const sorted = sortedFinite(values)
  const centre = quantileSorted(sorted, 0.5)
  for (let i = 0; i < sorted.length; i++) sorted[i] = Math.abs(sorted[i]! - centre)
  return quantileSorted(sorted.sort(), 0.5) * MAD_TO_SIGMA
}

/** Mean by compensated summation (Neumaier), so that NIST's NumAcc series keep their digits. */
export function mean(values: ArrayLike<number>): number {
  let sum = 0
  let lost = 0
  let count = 0
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!
    if (!Number.isFinite(value)) continue
    const next = sum + value
    lost += Math.abs(sum) >= Math.abs(value) ? sum - next + value : value - next + sum
    sum = next
    count++
  }
  return count === 0 ? Number.NaN : (sum + lost) / count
}

/** Sample standard deviation (n − 1), two passes. */
export function standardDeviation(values: ArrayLike<number>): number {
  const centre = mean(values)
  let squares = 0
  let count = 0
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!
    if (!Number.isFinite(value)) continue
    squares += (value - centre) ** 2
    count++
  }
  return count < 2 ? Number.NaN : Math.sqrt(squares / (count - 1))
}

/** Lowest and highest finite entry; NaN both where there is none. */
export function extremes(values: ArrayLike<number>): { low: number; high: number } {
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!
    if (value < low) low = value
    if (value > high) high = value
  }
  return low <= high ? { low, high } : { low: Number.NaN, high: Number.NaN }
}
