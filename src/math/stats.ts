/**
 * Order statistics and robust spread. NaN entries are left out everywhere; an empty input gives NaN, never 0.
 */
import { selectInPlace } from './select.ts'

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

/** Working memory of the selections below, so that none of them allocates; longer series get their own. */
const MOST_KEPT = 1 << 20
let kept = new Float64Array(1024)

/** The finite entries in working memory, in no order: good until the next call. */
function finiteCopy(values: ArrayLike<number>): Float64Array {
  const n = values.length
  if (n > kept.length && n <= MOST_KEPT) kept = new Float64Array(Math.min(MOST_KEPT, 2 * n))
  const copy = n <= kept.length ? kept : new Float64Array(n)
  return copy.subarray(0, keepFinite(typed(values), copy))
}

/** Loops see one kind of array alone, which compiled code reads several times as fast as one of several kinds. */
const typed = (values: ArrayLike<number>): Float64Array =>
  values instanceof Float64Array ? values : new Float64Array(values)

function keepFinite(values: Float64Array, out: Float64Array): number {
  let count = 0
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!
    if (value - value === 0) out[count++] = value
  }
  return count
}

/** Quantile of values in no order, none of them NaN, which are moved about; places before `from` hold lower ones only. */
function quantileOf(moved: Float64Array, share: number, from = 0): number {
  if (moved.length === 0) return Number.NaN
  const at = (moved.length - 1) * share
  const below = Math.floor(at)
  const low = selectInPlace(moved, below, Math.min(from, below))
  if (at === below || below + 1 >= moved.length) return low
  let high = moved[below + 1]!
  for (let i = below + 2; i < moved.length; i++) if (moved[i]! < high) high = moved[i]!
  return low + (high - low) * (at - below)
}

export function quantile(values: ArrayLike<number>, share: number): number {
  return quantileOf(finiteCopy(values), share)
}

/** Several quantiles of one series, shares ascending: one copy, each selected above the one before. */
export function quantiles(values: ArrayLike<number>, shares: readonly number[]): number[] {
  const moved = finiteCopy(values)
  let from = 0
  return shares.map((share) => {
    const found = quantileOf(moved, share, from)
    from = Math.floor((moved.length - 1) * share)
    return found
  })
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
  const moved = finiteCopy(values)
  const centre = quantileOf(moved, 0.5)
  for (let i = 0; i < moved.length; i++) moved[i] = Math.abs(moved[i]! - centre)
  return quantileOf(moved, 0.5) * MAD_TO_SIGMA
}

/** Mean by compensated summation (Neumaier), so that NIST's NumAcc series keep their digits. */
export function mean(numbers: ArrayLike<number>): number {
  const values = typed(numbers)
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
export function standardDeviation(numbers: ArrayLike<number>): number {
  const values = typed(numbers)
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

/** Lowest and highest finite entry strictly between two bounds; NaN both where there is none. */
export function extremes(
  numbers: ArrayLike<number>,
  above = Number.NEGATIVE_INFINITY,
  under = Number.POSITIVE_INFINITY,
): { low: number; high: number } {
  const values = typed(numbers)
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!
    if (!(value > above && value < under)) continue
    if (value < low) low = value
    if (value > high) high = value
  }
  return low <= high ? { low, high } : { low: Number.NaN, high: Number.NaN }
}

/** Mean of several series of one length, place by place. */
export const meanSeries = (series: readonly Float64Array[]): Float64Array =>
  Float64Array.from(series[0]!, (_, i) => mean(series.map((each) => each[i]!)))
