import { type LineFit, leastSquares } from './least-squares.ts'
import { MAD_TO_SIGMA, quantile } from './stats.ts'

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
  const prior = new Float64Array(n)
  const clean = columns.map((column) => new Float64Array(column))
  const seen = new Float64Array(y)
  for (let i = 0; i < n; i++) {
    let finite = Number.isFinite(seen[i])
    for (const column of clean) finite &&= Number.isFinite(column[i])
    prior[i] = finite ? (weights ? weights[i]! : 1) : 0
    if (finite) continue
    seen[i] = 0
    for (const column of clean) column[i] = 0
  }
  const residual = new Float64Array(n)
  const sizes = new Float64Array(n)
  let current = prior
  let fit = leastSquares(clean, seen, current)
  let spread = Number.NaN
  for (let round = 0; fit && round < rounds; round++) {
    let count = 0
    for (let i = 0; i < n; i++) {
      let model = 0
      for (let j = 0; j < clean.length; j++) model += clean[j]![i]! * fit.coefficients[j]!
      residual[i] = seen[i]! - model
      if (prior[i]! > 0) sizes[count++] = Math.abs(residual[i]!)
    }
    spread = MAD_TO_SIGMA * quantile(sizes.subarray(0, count), 0.5)
    if (!(spread > 1e-12)) break
    const next = new Float64Array(n)
    for (let i = 0; i < n; i++) {
      const u = residual[i]! / (4.685 * spread)
      next[i] = Math.abs(u) < 1 ? prior[i]! * (1 - u * u) ** 2 : 0
    }
    const refit = leastSquares(clean, seen, next)
    if (!refit) break
    let moved = 0
    for (let j = 0; j < clean.length; j++)
      moved = Math.max(
        moved,
        Math.abs(refit.coefficients[j]! - fit.coefficients[j]!) / refit.standardErrors[j]!,
      )
    fit = refit
    current = next
    if (moved < 1e-3) break
  }
  return fit ? { ...fit, weights: current, spread } : null
}
