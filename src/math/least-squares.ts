/**
 * Linear least squares y ≈ X·b, by Householder QR on a small number of columns.
 */
export interface LineFit {
  /** One per column. */
  readonly coefficients: Float64Array
  /** Standard errors under independent noise, one per column; NaN without degrees of freedom. */
  readonly standardErrors: Float64Array
  /** (XᵀX)⁻¹, row-major, columns × columns. */
  readonly unscaledCovariance: Float64Array
  readonly residualSpread: number
  readonly degreesOfFreedom: number
  readonly sumOfSquares: number
}

/**
 * @param columns the regressors, each of length n, columns-first (pass a column of ones for an intercept)
 * @param y n observations
 * @param weights n weights ≥ 0 (1 / variance), or null for equal ones; rows with weight 0 do not count
 * @returns null where the columns are linearly dependent or there are fewer rows than columns
 *
 * Source: Golub & Van Loan, Matrix Computations, 5.2 (from memory); checked against NIST StRD Norris.
 */
export function leastSquares(
  columns: readonly ArrayLike<number>[],
  y: ArrayLike<number>,
  weights: ArrayLike<number> | null = null,
): LineFit | null {
  const k = columns.length
  const n = y.length
  const a: Float64Array[] = columns.map((column) => new Float64Array(column))
  const b = new Float64Array(y)
  let used = n
  if (weights) {
    const roots = rootsOf(weights, n)
    used = countAbove(roots)
    multiply(b, roots)
    for (const column of a) multiply(column, roots)
  }
  if (used < k) return null
  const scale = a.map((column) => norm(column, 0))
  const r = new Float64Array(k * k)
  for (let j = 0; j < k; j++) {
    const column = a[j]!
    const length = norm(column, j)
    if (!(length > 1e-12 * scale[j]!) || scale[j] === 0) return null
    const alpha = column[j]! > 0 ? -length : length
    const v0 = column[j]! - alpha
    column[j] = v0
    const vv = 2 * (length * length - alpha * (v0 + alpha)) // v·v
    for (let m = j + 1; m < k; m++) reflect(a[m]!, column, j, vv)
    reflect(b, column, j, vv)
    r[j * k + j] = alpha
    for (let m = j + 1; m < k; m++) r[j * k + m] = a[m]![j]!
  }
  const coefficients = new Float64Array(k)
  for (let j = k - 1; j >= 0; j--) {
    let rest = b[j]!
    for (let m = j + 1; m < k; m++) rest -= r[j * k + m]! * coefficients[m]!
    coefficients[j] = rest / r[j * k + j]!
  }
  const sumOfSquares = squaresFrom(b, k)
  const degreesOfFreedom = used - k
  const variance = degreesOfFreedom > 0 ? sumOfSquares / degreesOfFreedom : Number.NaN
  const unscaledCovariance = inverseGram(r, k)
  const standardErrors = new Float64Array(k)
  for (let j = 0; j < k; j++) standardErrors[j] = Math.sqrt(variance * unscaledCovariance[j * k + j]!)
  return {
    coefficients,
    standardErrors,
    unscaledCovariance,
    residualSpread: Math.sqrt(variance),
    degreesOfFreedom,
    sumOfSquares,
  }
}

// Each loop over rows is a small function of its own: compiled once, in no time, for whoever calls it.

function rootsOf(weights: ArrayLike<number>, n: number): Float64Array {
  const roots = new Float64Array(n)
  for (let i = 0; i < n; i++) roots[i] = Math.sqrt(Math.max(0, weights[i]!))
  return roots
}

function countAbove(roots: Float64Array): number {
  let count = 0
  for (let i = 0; i < roots.length; i++) if (roots[i]! > 0) count++
  return count
}

function multiply(values: Float64Array, by: Float64Array): void {
  for (let i = 0; i < values.length; i++) values[i]! *= by[i]!
}

function squaresFrom(values: Float64Array, from: number): number {
  let sum = 0
  for (let i = from; i < values.length; i++) sum += values[i]! * values[i]!
  return sum
}

function largestFrom(values: Float64Array, from: number): number {
  let largest = 0
  for (let i = from; i < values.length; i++) largest = Math.max(largest, Math.abs(values[i]!))
  return largest
}

function scaledSquares(values: Float64Array, from: number, scale: number): number {
  let sum = 0
  for (let i = from; i < values.length; i++) {
    const share = values[i]! / scale
    sum += share * share
  }
  return sum
}

function dotFrom(a: Float64Array, b: Float64Array, from: number): number {
  let dot = 0
  for (let i = from; i < a.length; i++) dot += a[i]! * b[i]!
  return dot
}

function takeFrom(target: Float64Array, v: Float64Array, factor: number, from: number): void {
  for (let i = from; i < target.length; i++) target[i]! -= factor * v[i]!
}

function norm(column: Float64Array, from: number): number {
  const largest = largestFrom(column, from)
  if (largest === 0) return 0
  return largest * Math.sqrt(scaledSquares(column, from, largest))
}

/** target ← target − v · 2(v·target)/(v·v), from row `from` on. */
function reflect(target: Float64Array, v: Float64Array, from: number, vv: number): void {
  takeFrom(target, v, (2 * dotFrom(v, target, from)) / vv, from)
}

function inverseGram(r: Float64Array, k: number): Float64Array {
  const inverse = new Float64Array(k * k)
  for (let c = 0; c < k; c++) {
    for (let j = c; j >= 0; j--) {
      let rest = j === c ? 1 : 0
      for (let m = j + 1; m <= c; m++) rest -= r[j * k + m]! * inverse[m * k + c]!
      inverse[j * k + c] = rest / r[j * k + j]!
    }
  }
  const gram = new Float64Array(k * k)
  for (let i = 0; i < k; i++)
    for (let j = 0; j < k; j++) {
      let sum = 0
      for (let m = Math.max(i, j); m < k; m++) sum += inverse[i * k + m]! * inverse[j * k + m]!
      gram[i * k + j] = sum
    }
  return gram
}
