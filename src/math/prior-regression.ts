import { invertSymmetric, times } from './symmetric.ts'

/**
 * Least squares on changing subsets of one set of columns, with what is expected of some coefficients beforehand and
 * some that must not rise above zero. The products are worked out once; each subset costs only its small system.
 */
export interface Products {
  readonly columns: number
  readonly between: Float64Array
  readonly withY: Float64Array
  readonly yy: number
  readonly rows: number
}

/** All products of the columns with each other and with y; every entry finite. */
export function productsOf(columns: readonly Float64Array[], y: Float64Array): Products {
  const k = columns.length
  const between = new Float64Array(k * k)
  const withY = new Float64Array(k)
  const product = (a: Float64Array, b: Float64Array): number => {
    let sum = 0
    for (let i = 0; i < y.length; i++) sum += a[i]! * b[i]!
    return sum
  }
  for (let a = 0; a < k; a++) {
    for (let b = 0; b <= a; b++) between[a * k + b] = between[b * k + a] = product(columns[a]!, columns[b]!)
    withY[a] = product(columns[a]!, y)
  }
  return { columns: k, between, withY, yy: product(y, y), rows: y.length }
}

/** Expected of a coefficient (by its place in the subset) before looking: mean and standard deviation. */
export interface Prior {
  readonly at: number
  readonly mean: number
  readonly spread: number
}

export interface Solution {
  readonly coefficients: Float64Array
  /** Covariance, subset × subset, row-major, for the noise given. */
  readonly covariance: Float64Array
  /** Mean square of the residual. */
  readonly variance: number
}

/**
 * @param places columns of the subset
 * @param noise variance of a row's error, inflated by how many rows hang together: sets the priors' weight
 * @param notAbove places in the subset whose coefficients must be ≤ 0; the one that would rise most is held at zero
 * @returns null where the columns depend on each other
 */
export function solveWithPriors(
  products: Products,
  places: readonly number[],
  priors: readonly Prior[],
  noise: number,
  notAbove: readonly number[],
  atZero: readonly number[] = [],
): Solution | null {
  const k = places.length
  const plain = new Float64Array(k * k)
  const right = new Float64Array(k)
  for (let i = 0; i < k; i++) {
    for (let j = 0; j < k; j++)
      plain[i * k + j] = products.between[places[i]! * products.columns + places[j]!]!
    right[i] = products.withY[places[i]!]!
  }
  const normal = plain.slice()
  const aim = right.slice()
  for (const { at, mean, spread } of priors) {
    normal[at * k + at]! += noise / spread ** 2
    aim[at]! += (noise / spread ** 2) * mean
  }
  for (const at of atZero) normal[at * k + at]! *= 1e9
  const inverse = invertSymmetric(normal, k)
  if (!inverse) return null
  const coefficients = times(inverse, aim, k)
  const above = notAbove.filter((at) => coefficients[at]! > 0 && !atZero.includes(at))
  if (above.length > 0) {
    const worst = above.reduce((a, b) => (coefficients[b]! > coefficients[a]! ? b : a))
    return solveWithPriors(products, places, priors, noise, notAbove, [...atZero, worst])
  }
  const fitted = times(plain, coefficients, k)
  let squares = products.yy
  for (let i = 0; i < k; i++) squares += coefficients[i]! * (fitted[i]! - 2 * right[i]!)
  return {
    coefficients,
    covariance: inverse.map((value) => value * noise),
    variance: Math.max(0, squares) / products.rows,
  }
}
