import { invertSymmetric, times } from './symmetric.ts'

/** What is expected of a parameter beforehand, and the step that its slope is taken over. */
export interface Held {
  readonly start: number
  readonly step: number
  /** Normal about `mean`; an infinite spread expects nothing. */
  readonly mean: number
  readonly spread: number
}

export interface HeldFit {
  readonly parameters: Float64Array
  /** k × k, row-major: (JᵀJ/σ² + what was expected)⁻¹. */
  readonly covariance: Float64Array
  /** At the rows given. */
  readonly residual: Float64Array
  /** Sum of squares over σ², and of what the parameters left of what was expected. */
  readonly cost: number
}

/**
 * Nonlinear least squares with what is expected of each parameter: Gauss–Newton, the step halved while it does not help.
 *
 * @param model the model's values at every place of `y` for given parameters
 * @param rows places of `y` that count
 * @param sigma standard deviation of one row, in the unit of `y`
 * @returns null where the parameters cannot be told apart
 *
 * Source: Gauss–Newton with a normal prior, any textbook of estimation. Slopes by forward differences.
 */
export function heldFit(
  model: (parameters: Float64Array) => Float64Array,
  y: ArrayLike<number>,
  rows: readonly number[],
  held: readonly Held[],
  sigma: number,
  rounds = 8,
): HeldFit | null {
  const k = held.length
  const weight = 1 / sigma ** 2
  let parameters = Float64Array.from(held, ({ start }) => start)
  let at = model(parameters)
  let cost = costOf(at, y, rows, parameters, held, weight)
  let covariance: Float64Array | null = null
  for (let round = 0; round < rounds; round++) {
    const slopes = held.map(({ step }, j) => {
      const moved = model(parameters.map((value, i) => (i === j ? value + step : value)))
      return Float64Array.from(rows, (row) => (moved[row]! - at[row]!) / step)
    })
    const normal = new Float64Array(k * k)
    const right = new Float64Array(k)
    for (let a = 0; a < k; a++) {
      for (let b = 0; b <= a; b++) {
        let sum = 0
        for (let i = 0; i < rows.length; i++) sum += slopes[a]![i]! * slopes[b]![i]!
        normal[a * k + b] = normal[b * k + a] = sum * weight
      }
      let sum = 0
      rows.forEach((row, i) => {
        sum += slopes[a]![i]! * (y[row]! - at[row]!)
      })
      const tight = 1 / held[a]!.spread ** 2
      normal[a * k + a]! += tight
      right[a] = sum * weight + tight * (held[a]!.mean - parameters[a]!)
    }
    covariance = invertSymmetric(normal, k)
    if (!covariance) return null
    const move = times(covariance, right, k)
    let share = 1
    let next = parameters
    let nextCost = Number.POSITIVE_INFINITY
    for (; share > 0.05; share /= 2) {
      next = parameters.map((value, j) => value + share * move[j]!)
      const values = model(next)
      nextCost = costOf(values, y, rows, next, held, weight)
      if (nextCost <= cost) {
        at = values
        break
      }
    }
    if (!(nextCost <= cost)) break
    const gained = cost - nextCost
    parameters = next
    cost = nextCost
    if (gained < 1e-3) break
  }
  return covariance
    ? { parameters, covariance, residual: Float64Array.from(rows, (row) => y[row]! - at[row]!), cost }
    : null
}

function costOf(
  at: Float64Array,
  y: ArrayLike<number>,
  rows: readonly number[],
  parameters: Float64Array,
  held: readonly Held[],
  weight: number,
): number {
  let sum = 0
  for (const row of rows) sum += (y[row]! - at[row]!) ** 2
  sum *= weight
  held.forEach(({ mean, spread }, j) => {
    sum += ((parameters[j]! - mean) / spread) ** 2
  })
  return sum
}
