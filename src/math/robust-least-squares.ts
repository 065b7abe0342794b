import { type LineFit, leastSquares } from './least-squares.ts'
import { MAD_TO_SIGMA, quantile } from './stats.ts'
import { invertSymmetric, times } from './symmetric.ts'

/**
 * Least squares that outliers cannot pull: iteratively reweighted, Tukey's biweight with c = 4.685 robust spreads.
 *
 * @param columns regressors, columns-first
 * @param y observations; rows that are not finite are left out
 * @param weights prior weights ≥ 0, or null
 * @returns the last weighted fit, with the final weight of every row (0 = left out); null where it cannot be solved.
 *
 * Source of c (95 % efficiency under normal noise): Holland & Welsch 1977 (from memory).
 */
export function robustLeastSquares(
  columns: readonly ArrayLike<number>[],
  y: ArrayLike<number>,
  weights: ArrayLike<number> | null = null,
  rounds = 15,
): (LineFit & { readonly weights: Float64Array; readonly spread: number }) | null {
  const n = y.length
  const rows = rowsThatCount(columns, y, weights)
  const pick = (values: ArrayLike<number>): Float64Array => {
    const own = new Float64Array(rows.length)
    for (let u = 0; u < rows.length; u++) own[u] = values[rows[u]!]!
    return own
  }
  const clean = columns.map(pick)
  const seen = pick(y)
  const prior = weights ? pick(weights) : new Float64Array(rows.length).fill(1)
  let current = prior
  const first = leastSquares(clean, seen, prior)
  if (!first) return null
  let coefficients = first.coefficients
  let residual = new Float64Array(rows.length)
  let after = new Float64Array(rows.length)
  const sizes = new Float64Array(rows.length)
  residualsOf(clean, seen, coefficients, residual)
  let spread = Number.NaN
  for (let round = 0; round < rounds; round++) {
    sizesOf(residual, sizes)
    spread = MAD_TO_SIGMA * quantile(sizes, 0.5)
    if (!(spread > 1e-12)) break
    const next = new Float64Array(rows.length)
    biweights(residual, 4.685 * spread, prior, next)
    const refit = weighted(clean, seen, next)
    if (!refit) break
    residualsOf(clean, seen, refit.coefficients, after)
    const moved = movedBy(coefficients, refit, after, next)
    coefficients = refit.coefficients
    current = next
    const kept = residual
    residual = after
    after = kept
    if (moved < 1e-3) break
  }
  // the rounds only look for the weights, by normal equations; what is given is solved with all digits
  const fit = current === prior ? first : leastSquares(clean, seen, current)
  if (!fit) return null
  const all = new Float64Array(n)
  for (let u = 0; u < rows.length; u++) all[rows[u]!] = current[u]!
  return { ...fit, weights: all, spread }
}

// Each loop over rows is a small function of its own: compiled once, in no time, for all fits.

function sizesOf(values: Float64Array, out: Float64Array): void {
  for (let u = 0; u < out.length; u++) out[u] = Math.abs(values[u]!)
}

function biweights(residual: Float64Array, bend: number, prior: Float64Array, out: Float64Array): void {
  for (let u = 0; u < out.length; u++) {
    const off = residual[u]! / bend
    const inside = 1 - off * off
    out[u] = inside > 0 ? prior[u]! * inside * inside : 0
  }
}

function takeTimes(target: Float64Array, column: Float64Array, factor: number): void {
  for (let i = 0; i < target.length; i++) target[i]! -= factor * column[i]!
}

function product(a: Float64Array, b: Float64Array, out: Float64Array): void {
  for (let i = 0; i < out.length; i++) out[i] = a[i]! * b[i]!
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0
  for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!
  return sum
}

function countAbove(weights: Float64Array): number {
  let count = 0
  for (let i = 0; i < weights.length; i++) if (weights[i]! > 0) count++
  return count
}

/** Rows where everything is finite and that carry weight. */
function rowsThatCount(
  columns: readonly ArrayLike<number>[],
  y: ArrayLike<number>,
  weights: ArrayLike<number> | null,
): Int32Array {
  const counts = new Uint8Array(y.length)
  let rows = 0
  for (let i = 0; i < counts.length; i++)
    if (Number.isFinite(y[i]) && (weights === null || weights[i]! > 0)) counts[i] = 1
  for (const column of columns)
    for (let i = 0; i < counts.length; i++) if (!Number.isFinite(column[i])) counts[i] = 0
  for (let i = 0; i < counts.length; i++) rows += counts[i]!
  const found = new Int32Array(rows)
  for (let i = 0, at = 0; i < counts.length; i++) if (counts[i] === 1) found[at++] = i
  return found
}

function residualsOf(
  columns: readonly Float64Array[],
  y: Float64Array,
  coefficients: Float64Array,
  out: Float64Array,
): void {
  out.set(y)
  for (let j = 0; j < columns.length; j++) takeTimes(out, columns[j]!, coefficients[j]!)
}

interface Refit {
  readonly coefficients: Float64Array
  /** (XᵀWX)⁻¹'s diagonal. */
  readonly inverse: Float64Array
  readonly used: number
}

/** Weighted least squares by normal equations on columns of like size; by QR where they are nearly dependent. */
function weighted(columns: readonly Float64Array[], y: Float64Array, weights: Float64Array): Refit | null {
  const k = columns.length
  const gram = new Float64Array(k * k)
  const right = new Float64Array(k)
  const pulled = new Float64Array(y.length)
  const used = countAbove(weights)
  if (used < k) return null
  for (let a = 0; a < k; a++) {
    product(weights, columns[a]!, pulled)
    right[a] = dot(pulled, y)
    for (let b = 0; b <= a; b++) gram[a * k + b] = dot(pulled, columns[b]!)
  }
  const size = Float64Array.from({ length: k }, (_, a) => Math.sqrt(gram[a * k + a]!))
  for (let a = 0; a < k; a++)
    for (let b = 0; b <= a; b++) {
      gram[a * k + b]! /= size[a]! * size[b]!
      gram[b * k + a] = gram[a * k + b]!
    }
  const inverse = invertSymmetric(gram, k)
  if (inverse) {
    const scaled = times(
      inverse,
      right.map((value, a) => value / size[a]!),
      k,
    )
    return {
      coefficients: scaled.map((value, a) => value / size[a]!),
      inverse: size.map((value, a) => inverse[a * k + a]! / (value * value)),
      used,
    }
  }
  const fit = leastSquares(columns, y, weights)
  if (!fit) return null
  return {
    coefficients: fit.coefficients,
    inverse: fit.coefficients.map((_, a) => fit.unscaledCovariance[a * k + a]!),
    used,
  }
}

/** How far a refit moved, in its own standard errors. */
function movedBy(before: Float64Array, refit: Refit, residual: Float64Array, weights: Float64Array): number {
  let squares = 0
  for (let i = 0; i < residual.length; i++) squares += weights[i]! * residual[i]! * residual[i]!
  const variance = squares / (refit.used - before.length)
  let moved = 0
  for (let j = 0; j < before.length; j++)
    moved = Math.max(
      moved,
      Math.abs(refit.coefficients[j]! - before[j]!) / Math.sqrt(variance * refit.inverse[j]!),
    )
  return moved
}
