import { invertSymmetric, sandwich, times } from './symmetric.ts'

/**
 * Robust regression of many series on few shared columns, with standard errors that allow for errors which hang
 * together in time.
 */
export interface BlockFit {
  readonly coefficients: Float64Array
  /** k × k, row-major: of the coefficients, from the scores summed over blocks of rows. */
  readonly covariance: Float64Array
  /** Degrees of freedom for Student's t: blocks that carry weight − 1. */
  readonly degrees: number
  /** y − X·b, NaN where a row was not used. */
  readonly residuals: Float64Array
  /** Robust spread of the residuals. */
  readonly spread: number
  readonly rows: number
}

/** Huber's bend, in spreads: 95 % efficient would be 1.345; wider here since readings are near normal. */
const BEND = 2.5
/** So many bends away a row counts no more. */
const FAR = 3
const MOST_ROUNDS = 8

/**
 * y ≈ X·b over rows where all are finite, residuals beyond 2.5 robust spreads weighted down (Huber), those
 * beyond 7.5 left out.
 *
 * The covariance is (XᵀWX)⁻¹ · Σ_blocks gᵦgᵦᵀ · (XᵀWX)⁻¹ with gᵦ the summed scores of block b: right for any
 * correlation that dies out within a block, and for spreads that change from block to block. It is biased low
 * with few blocks; the factor B / (B − 1) and Student's t with B − 1 degrees take most of that out.
 *
 * @param shared the columns (one of ones for the intercept), laid out once by `sharedColumns` for all series
 * @param blockOf block number of each row, 0 … blocks − 1
 * @param leastSpread for the weights alone: a reading that moves in steps stands still most of the time, and the robust
 *   spread of its residuals then takes the very steps that carry the slope for strays
 * @returns null with fewer than 3·k rows, fewer than 4 blocks or dependent columns
 * Source: Huber, Robust Statistics; Liang & Zeger, Biometrika 73 (1986) 13 for the block sandwich (from memory).
 */
export function blockRegression(
  shared: SharedColumns,
  y: Float64Array,
  blockOf: Int32Array,
  blocks: number,
  robust = true,
  leastSpread = 0,
): BlockFit | null {
  const { columns, rows, inverse: whole } = shared
  const k = columns.length
  const n = y.length
  const used = rows.filter((i) => Number.isFinite(y[i]!))
  if (used.length < 3 * k) return null
  const weights = new Float64Array(used.length).fill(1)
  const residuals = new Float64Array(n).fill(Number.NaN)
  let coefficients: Float64Array = new Float64Array(k)
  let inverse = used.length === rows.length ? whole : null
  let spread = 0
  for (let round = 0; round < MOST_ROUNDS; round++) {
    const known = round === 0 && inverse !== null
    if (!known) inverse = invertSymmetric(gramOf(columns, used, weights), k)
    if (!inverse) return null
    const right = new Float64Array(k)
    for (let a = 0; a < k; a++) {
      const column = columns[a]!
      let sum = 0
      for (let u = 0; u < used.length; u++) sum += weights[u]! * column[used[u]!]! * y[used[u]!]!
      right[a] = sum
    }
    coefficients = times(inverse, right, k)
    let sum = 0
    for (let u = 0; u < used.length; u++) {
      const i = used[u]!
      let fitted = 0
      for (let a = 0; a < k; a++) fitted += coefficients[a]! * columns[a]![i]!
      residuals[i] = y[i]! - fitted
      sum += weights[u]! * residuals[i]! ** 2
    }
    const before = spread
    spread = Math.sqrt(sum / used.length)
    if (robust) spread = Math.max(0.2 * spread, Math.min(spread, sampledSpread(residuals, used)))
    if (!robust || spread === 0 || Math.abs(spread / before - 1) < 0.005 || round === MOST_ROUNDS - 1) break
    const bend = BEND * Math.max(spread, leastSpread)
    let outside = 0
    for (let u = 0; u < used.length; u++) {
      const size = Math.abs(residuals[used[u]!]!) / bend
      weights[u] = size > FAR ? 0 : size > 1 ? 1 / size : 1
      if (size > 1) outside++
    }
    // fewer than a normal noise would put outside: nothing to weight down
    if (outside < 0.015 * used.length && round === 0) {
      weights.fill(1)
      break
    }
  }
  const scores = new Float64Array(blocks * k)
  const carries = new Uint8Array(blocks)
  for (let u = 0; u < used.length; u++) {
    const i = used[u]!
    const block = blockOf[i]!
    carries[block] = 1
    const pull = weights[u]! * residuals[i]!
    for (let a = 0; a < k; a++) scores[block * k + a]! += pull * columns[a]![i]!
  }
  const filled = carries.reduce((sum, each) => sum + each, 0)
  if (filled < 4) return null
  const middle = new Float64Array(k * k)
  for (let block = 0; block < blocks; block++)
    for (let a = 0; a < k; a++)
      for (let b = 0; b < k; b++) middle[a * k + b]! += scores[block * k + a]! * scores[block * k + b]!
  const covariance = sandwich(inverse!, middle, k)
  for (let j = 0; j < covariance.length; j++) covariance[j]! *= filled / (filled - 1)
  return { coefficients, covariance, degrees: filled - 1, residuals, spread, rows: used.length }
}

/** Columns that many series share: their finite rows and (XᵀX)⁻¹, worked out once. */
export interface SharedColumns {
  readonly columns: readonly Float64Array[]
  readonly rows: Int32Array
  readonly inverse: Float64Array | null
}

export function sharedColumns(columns: readonly Float64Array[]): SharedColumns {
  const n = columns[0]!.length
  const rows = Int32Array.from({ length: n }, (_, i) => i).filter((i) =>
    columns.every((column) => Number.isFinite(column[i]!)),
  )
  const inverse = invertSymmetric(gramOf(columns, rows, null), columns.length)
  return { columns, rows, inverse }
}

function gramOf(
  columns: readonly Float64Array[],
  rows: Int32Array,
  weights: Float64Array | null,
): Float64Array {
  const k = columns.length
  const gram = new Float64Array(k * k)
  for (let a = 0; a < k; a++)
    for (let b = 0; b <= a; b++) {
      const [x, z] = [columns[a]!, columns[b]!]
      let sum = 0
      for (let u = 0; u < rows.length; u++) {
        const i = rows[u]!
        sum += (weights ? weights[u]! : 1) * x[i]! * z[i]!
      }
      gram[a * k + b] = gram[b * k + a] = sum
    }
  return gram
}

/** Robust spread of at most 1000 of the residuals. */
function sampledSpread(residuals: Float64Array, used: Int32Array): number {
  const stride = Math.max(1, Math.floor(used.length / 1000))
  const sizes: number[] = []
  for (let u = 0; u < used.length; u += stride) sizes.push(Math.abs(residuals[used[u]!]!))
  const sorted = Float64Array.from(sizes).sort()
  return sorted[sorted.length >> 1]! * 1.482602218505602
}
