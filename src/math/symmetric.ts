/**
 * Small symmetric positive-definite systems, row-major k × k: for many regressions that share few columns.
 */

/** A⁻¹ by Cholesky; null where A is not positive definite to about 12 digits (columns dependent). */
export function invertSymmetric(a: ArrayLike<number>, k: number): Float64Array | null {
  const lower = new Float64Array(k * k)
  for (let i = 0; i < k; i++) {
    for (let j = 0; j <= i; j++) {
      let sum = a[i * k + j]!
      for (let m = 0; m < j; m++) sum -= lower[i * k + m]! * lower[j * k + m]!
      if (i === j) {
        if (!(sum > 1e-11 * a[i * k + i]!) || !(a[i * k + i]! > 0)) return null
        lower[i * k + i] = Math.sqrt(sum)
      } else lower[i * k + j] = sum / lower[j * k + j]!
    }
  }
  const inverse = new Float64Array(k * k)
  for (let c = 0; c < k; c++) {
    const x = new Float64Array(k)
    for (let i = 0; i < k; i++) {
      let sum = i === c ? 1 : 0
      for (let m = 0; m < i; m++) sum -= lower[i * k + m]! * x[m]!
      x[i] = sum / lower[i * k + i]!
    }
    for (let i = k - 1; i >= 0; i--) {
      let sum = x[i]!
      for (let m = i + 1; m < k; m++) sum -= lower[m * k + i]! * x[m]!
      x[i] = sum / lower[i * k + i]!
    }
    for (let i = 0; i < k; i++) inverse[i * k + c] = x[i]!
  }
  return inverse
}

/** A·x. */
export function times(a: ArrayLike<number>, x: ArrayLike<number>, k: number): Float64Array {
  const out = new Float64Array(k)
  for (let i = 0; i < k; i++) {
    let sum = 0
    for (let j = 0; j < k; j++) sum += a[i * k + j]! * x[j]!
    out[i] = sum
  }
  return out
}

/** A·B·A for symmetric A and B: a sandwich covariance. */
export function sandwich(a: ArrayLike<number>, b: ArrayLike<number>, k: number): Float64Array {
  const half = new Float64Array(k * k)
  const out = new Float64Array(k * k)
  for (let i = 0; i < k; i++)
    for (let j = 0; j < k; j++) {
      let sum = 0
      for (let m = 0; m < k; m++) sum += a[i * k + m]! * b[m * k + j]!
      half[i * k + j] = sum
    }
  for (let i = 0; i < k; i++)
    for (let j = 0; j < k; j++) {
      let sum = 0
      for (let m = 0; m < k; m++) sum += half[i * k + m]! * a[m * k + j]!
      out[i * k + j] = sum
    }
  return out
}
