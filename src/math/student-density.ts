import { invertSymmetric, times } from './symmetric.ts'

/**
 * ln of a multivariate Student density, up to what depends on size and degrees alone: compare only densities of the
 * same size and degrees.
 *
 *     −½ ln|S| − (ν + k)/2 · ln(1 + dᵀS⁻¹d / ν)
 *
 * With few degrees its tails are wide: a covariance that was estimated from few blocks refutes less than it seems to.
 */
export interface StudentDensity {
  /** @param d k deviations from the centre */
  log(d: ArrayLike<number>): number
}

/** @param scale k × k, row-major; null where it is not positive definite. */
export function studentDensity(scale: Float64Array, k: number, degrees: number): StudentDensity | null {
  const inverse = invertSymmetric(scale, k)
  const determinant = logDeterminant(scale, k)
  if (!inverse || determinant === null) return null
  return {
    log: (d) => {
      const pulled = times(inverse, d, k)
      let square = 0
      for (let i = 0; i < k; i++) square += d[i]! * pulled[i]!
      return -0.5 * determinant - 0.5 * (degrees + k) * Math.log1p(square / degrees)
    },
  }
}

/** ln|A| of a symmetric positive definite k × k; null for any other. */
function logDeterminant(a: Float64Array, k: number): number | null {
  const left = a.slice()
  let sum = 0
  for (let i = 0; i < k; i++) {
    const pivot = left[i * k + i]!
    if (!(pivot > 0)) return null
    sum += Math.log(pivot)
    for (let row = i + 1; row < k; row++) {
      const factor = left[row * k + i]! / pivot
      for (let column = i; column < k; column++) left[row * k + column]! -= factor * left[i * k + column]!
    }
  }
  return sum
}
