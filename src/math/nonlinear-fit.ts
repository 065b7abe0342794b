import { leastSquares } from './least-squares.ts'
import { MAD_TO_SIGMA, quantile } from './stats.ts'

export interface NonlinearFit {
  readonly parameters: Float64Array
  /**
   * Standard errors, rows that belong together (`groups`) counted as one witness; NaN where the data are silent.
   * Worked out when first asked for: of many attempts only the last one is.
   */
  readonly standardErrors: Float64Array
  /** Robust spread of the residuals. */
  readonly spread: number
  readonly residuals: Float64Array
  readonly rounds: number
}

/**
 * Robust nonlinear least squares: Levenberg–Marquardt with a forward-difference Jacobian and Huber weights.
 *
 * @param model fills `out` with the model's value at every row for the given parameters
 * @param y observations, all finite
 * @param start first guess; `scale[j]` is a sensible step of parameter j (sets the difference step and the damping)
 * @param bounds lowest and highest value of each parameter; equal ones hold it fixed
 * @param groups number of the witness each row belongs to (a brake application); errors come from how the groups
 *   disagree (sandwich estimator), so that many samples of one press are not taken for many presses
 *
 * Source: Marquardt 1963; sandwich estimator: Huber 1967, White 1980 (from memory). Checked against NIST StRD
 * Misra1a in tests/reference.
 */
export function nonlinearFit(
  model: (parameters: Float64Array, out: Float64Array) => void,
  y: ArrayLike<number>,
  start: readonly number[],
  scale: readonly number[],
  bounds: readonly (readonly [number, number])[],
  groups: ArrayLike<number> | null = null,
  options: { readonly rounds?: number; readonly huber?: number } = {},
): NonlinearFit {
  const n = y.length
  const k = start.length
  const huber = options.huber ?? 2.5
  const clamp = (p: Float64Array): Float64Array =>
    p.map((value, j) => Math.min(bounds[j]![1], Math.max(bounds[j]![0], value)))
  let parameters = clamp(Float64Array.from(start))
  const seen = y instanceof Float64Array ? y : Float64Array.from(y)
  const value = new Float64Array(n)
  const trial = new Float64Array(n)
  const residual = new Float64Array(n)
  const jacobian = columnsOf(k, n)
  const weights = new Float64Array(n)
  let damping = 1e-3
  model(parameters, value)
  const sizes = new Float64Array(n)
  const size = largestOf(seen)
  let spread = spreadOf(seen, value, residual, sizes, size)
  let cost = huberCost(residual, spread, huber)
  let round = 0
  for (; round < (options.rounds ?? 40); round++) {
    differentiate(model, parameters, scale, bounds, value, jacobian)
    weigh(residual, spread, huber, weights)
    const { gram, slope } = normalEquations(jacobian, residual, weights)
    let better = false
    for (let attempt = 0; attempt < 8 && !better; attempt++) {
      const step = dampedStep(gram, slope, scale, damping)
      const next = clamp(parameters.map((p, j) => p + (step[j] ?? 0)))
      model(next, trial)
      const nextCost = costOf(seen, trial, spread, huber)
      if (nextCost < cost) {
        const gain = (cost - nextCost) / cost
        parameters = next
        value.set(trial)
        spread = spreadOf(seen, value, residual, sizes, size)
        cost = huberCost(residual, spread, huber)
        damping = Math.max(1e-9, damping / 5)
        better = gain > 1e-9
        if (!better) attempt = 8
      } else damping *= 6
    }
    if (!better) break
  }
  let errors: Float64Array | null = null
  return {
    parameters,
    get standardErrors() {
      if (errors) return errors
      const slopes = columnsOf(k, n)
      differentiate(model, parameters, scale, bounds, value, slopes)
      errors = sandwich(slopes, residual, spread, huber, groups)
      return errors
    },
    spread,
    residuals: residual,
    rounds: round,
  }
}

const columnsOf = (k: number, n: number): Float64Array[] =>
  Array.from({ length: k }, () => new Float64Array(n))

function weigh(residual: Float64Array, spread: number, huber: number, weights: Float64Array): void {
  for (let i = 0; i < residual.length; i++) weights[i] = weightOf(residual[i]!, spread, huber)
}

// Each loop over rows is a small function of its own: compiled once, in no time, for all fits.

function costOf(y: Float64Array, value: Float64Array, spread: number, huber: number): number {
  let sum = 0
  for (let i = 0; i < value.length; i++) sum += huberAt(y[i]! - value[i]!, spread, huber)
  return sum
}

const weightOf = (r: number, spread: number, huber: number): number =>
  Math.abs(r) <= huber * spread ? 1 : (huber * spread) / Math.abs(r)

function huberAt(r: number, spread: number, huber: number): number {
  const limit = huber * spread
  return Math.abs(r) <= limit ? r * r : 2 * limit * Math.abs(r) - limit * limit
}

function huberCost(residual: Float64Array, spread: number, huber: number): number {
  let sum = 0
  for (let i = 0; i < residual.length; i++) sum += huberAt(residual[i]!, spread, huber)
  return sum
}

/** Fills `residual` and gives its robust spread; never below a millionth of the data's own size. */
function spreadOf(
  y: Float64Array,
  value: Float64Array,
  residual: Float64Array,
  sizes: Float64Array,
  size: number,
): number {
  difference(y, value, residual, sizes)
  return Math.max(MAD_TO_SIGMA * quantile(sizes, 0.5), 1e-6 * size, 1e-12)
}

function difference(y: Float64Array, value: Float64Array, out: Float64Array, sizes: Float64Array): void {
  for (let i = 0; i < out.length; i++) {
    const off = y[i]! - value[i]!
    out[i] = off
    sizes[i] = Math.abs(off)
  }
}

function largestOf(values: Float64Array): number {
  let size = 0
  for (let i = 0; i < values.length; i++) size = Math.max(size, Math.abs(values[i]!))
  return size
}

function differentiate(
  model: (parameters: Float64Array, out: Float64Array) => void,
  parameters: Float64Array,
  scale: readonly number[],
  bounds: readonly (readonly [number, number])[],
  value: Float64Array,
  jacobian: readonly Float64Array[],
): void {
  for (let j = 0; j < parameters.length; j++) {
    const moved = Float64Array.from(parameters)
    const size = 1e-3 * scale[j]!
    const step = parameters[j]! + size > bounds[j]![1] ? -size : size
    moved[j]! += step
    const column = jacobian[j]!
    if (bounds[j]![0] === bounds[j]![1]) {
      column.fill(0) // held fixed
      continue
    }
    model(moved, column)
    toSlope(column, value, step)
  }
}

function toSlope(moved: Float64Array, value: Float64Array, step: number): void {
  for (let i = 0; i < moved.length; i++) moved[i] = (moved[i]! - value[i]!) / step
}

function normalEquations(
  jacobian: readonly Float64Array[],
  residual: Float64Array,
  weights: Float64Array,
): { gram: Float64Array[]; slope: Float64Array } {
  const k = jacobian.length
  const gram = Array.from({ length: k }, () => new Float64Array(k))
  const slope = new Float64Array(k)
  const weighted = new Float64Array(weights.length)
  // a parameter held fixed moves nothing: its column and its products are zero
  const moving = Array.from(jacobian.keys()).filter((j) => moves(jacobian[j]!))
  for (const [at, a] of moving.entries()) {
    const left = jacobian[a]!
    product(weights, left, weighted)
    slope[a] = dot(weighted, residual)
    for (let m = at; m < moving.length; m++) {
      const b = moving[m]!
      const sum = dot(weighted, jacobian[b]!)
      gram[a]![b] = sum
      gram[b]![a] = sum
    }
  }
  return { gram, slope }
}

function product(a: Float64Array, b: Float64Array, out: Float64Array): void {
  for (let i = 0; i < out.length; i++) out[i] = a[i]! * b[i]!
}

function moves(column: Float64Array): boolean {
  for (let i = 0; i < column.length; i++) if (column[i] !== 0) return true
  return false
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0
  for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!
  return sum
}

/** Solves (G + damping · D) step = slope in units of `scale`, so that silent parameters stay where they are. */
function dampedStep(
  gram: readonly Float64Array[],
  slope: Float64Array,
  scale: readonly number[],
  damping: number,
): Float64Array {
  const k = slope.length
  let largest = 0
  for (let j = 0; j < k; j++) largest = Math.max(largest, gram[j]![j]! * scale[j]! ** 2)
  const columns = Array.from({ length: k }, (_, b) =>
    Float64Array.from({ length: k }, (_, a) => {
      const entry = gram[a]![b]! * scale[a]! * scale[b]!
      return a === b ? entry * (1 + damping) + 1e-12 * largest + 1e-300 : entry
    }),
  )
  const solved = leastSquares(
    columns,
    slope.map((value, j) => value * scale[j]!),
  )
  return Float64Array.from({ length: k }, (_, j) => (solved ? solved.coefficients[j]! * scale[j]! : 0))
}

function sandwich(
  jacobian: readonly Float64Array[],
  residual: Float64Array,
  spread: number,
  huber: number,
  groups: ArrayLike<number> | null,
): Float64Array {
  const k = jacobian.length
  const weights = new Float64Array(residual.length)
  weigh(residual, spread, huber, weights)
  const { gram } = normalEquations(jacobian, residual, weights)
  const heard = Array.from({ length: k }, (_, j) => j).filter((j) => gram[j]![j]! > 0)
  const errors = new Float64Array(k).fill(Number.NaN)
  const inverse = invert(heard.map((a) => heard.map((b) => gram[a]![b]!)))
  if (!inverse) return errors
  const scores = new Map<number, Float64Array>()
  for (let i = 0; i < residual.length; i++) {
    const group = groups ? groups[i]! : i
    let score = scores.get(group)
    if (!score) {
      score = new Float64Array(heard.length)
      scores.set(group, score)
    }
    for (let a = 0; a < heard.length; a++) score[a]! += weights[i]! * residual[i]! * jacobian[heard[a]!]![i]!
  }
  const count = scores.size
  const few = count > 1 ? count / (count - 1) : Number.NaN
  for (let a = 0; a < heard.length; a++) {
    let variance = 0
    for (const score of scores.values()) {
      let part = 0
      for (let b = 0; b < heard.length; b++) part += inverse[a]![b]! * score[b]!
      variance += part * part
    }
    errors[heard[a]!] = Math.sqrt(variance * few)
  }
  return errors
}

/** Inverse by least squares on the unit vectors; null where singular. */
function invert(matrix: readonly (readonly number[])[]): number[][] | null {
  const k = matrix.length
  const columns = Array.from({ length: k }, (_, b) => matrix.map((row) => row[b]!))
  const inverse: number[][] = Array.from({ length: k }, () => [])
  for (let b = 0; b < k; b++) {
    const unit = new Float64Array(k)
    unit[b] = 1
    const solved = leastSquares(columns, unit)
    if (!solved) return null
    for (let a = 0; a < k; a++) inverse[a]!.push(solved.coefficients[a]!)
  }
  return inverse
}
