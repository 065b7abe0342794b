import { selectInPlace } from './select.ts'
import { MAD_TO_SIGMA } from './stats.ts'
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
  const { columns, rows, packed, gram: wholeGram, inverse: whole } = shared
  const k = columns.length
  const n = y.length
  let kept = 0
  for (let u = 0; u < rows.length; u++) if (Number.isFinite(y[rows[u]!]!)) kept++
  if (kept < 3 * k) return null
  // row numbers in y, and where each row's columns begin in the packed block
  const used = kept === rows.length ? rows : new Int32Array(kept)
  const from = new Int32Array(kept)
  for (let u = 0, at = 0; u < rows.length; u++)
    if (used === rows || Number.isFinite(y[rows[u]!]!)) {
      if (used !== rows) used[at] = rows[u]!
      from[at++] = u * k
    }
  const weights = new Float64Array(used.length).fill(1)
  const residuals = new Float64Array(n).fill(Number.NaN)
  let coefficients: Float64Array = new Float64Array(k)
  // with all rows at weight 1; each round takes off what its few outsiders weigh less
  const gram = used === rows ? wholeGram : gramOf(packed, k, from)
  const right = rightOf(packed, k, from, y, used)
  let inverse = used === rows ? whole : invertSymmetric(gram, k)
  let spread = 0
  for (let round = 0; round < MOST_ROUNDS; round++) {
    const pulled = round === 0 ? right : right.slice()
    if (round > 0) {
      const own = gram.slice()
      takeOff(packed, k, from, y, used, weights, own, pulled)
      inverse = invertSymmetric(own, k)
    }
    if (!inverse) return null
    coefficients = times(inverse, pulled, k)
    const sum = residualsOf(packed, k, from, y, used, weights, coefficients, residuals)
    const before = spread
    spread = Math.sqrt(sum / used.length)
    if (robust) spread = Math.max(0.2 * spread, Math.min(spread, sampledSpread(residuals, used)))
    if (!robust || spread === 0 || Math.abs(spread / before - 1) < 0.005 || round === MOST_ROUNDS - 1) break
    const bend = BEND * Math.max(spread, leastSpread)
    const outside = reweigh(residuals, used, bend, weights)
    // fewer than a normal noise would put outside: nothing to weight down
    if (outside < 0.015 * used.length && round === 0) {
      weights.fill(1)
      break
    }
  }
  const scores = new Float64Array(blocks * k)
  const carries = new Uint8Array(blocks)
  addScores(packed, k, from, used, weights, residuals, blockOf, scores, carries)
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

/** Columns that many series share: their finite rows, XᵀX and its inverse, worked out once. */
export interface SharedColumns {
  readonly columns: readonly Float64Array[]
  readonly rows: Int32Array
  /** The finite rows one after the other, k values each. */
  readonly packed: Float64Array
  readonly gram: Float64Array
  readonly inverse: Float64Array | null
}

export function sharedColumns(columns: readonly Float64Array[]): SharedColumns {
  const n = columns[0]!.length
  const rows = Int32Array.from({ length: n }, (_, i) => i).filter((i) =>
    columns.every((column) => Number.isFinite(column[i]!)),
  )
  const k = columns.length
  const packed = new Float64Array(rows.length * k)
  const from = new Int32Array(rows.length)
  for (let u = 0; u < rows.length; u++) {
    from[u] = u * k
    for (let a = 0; a < k; a++) packed[u * k + a] = columns[a]![rows[u]!]!
  }
  const gram = gramOf(packed, k, from)
  return { columns, rows, packed, gram, inverse: invertSymmetric(gram, k) }
}

function gramOf(packed: Float64Array, k: number, from: Int32Array): Float64Array {
  const gram = new Float64Array(k * k)
  for (let a = 0; a < k; a++)
    for (let b = 0; b <= a; b++) {
      const sum = productOf(packed, from, a, b)
      gram[a * k + b] = sum
      gram[b * k + a] = sum
    }
  return gram
}

function productOf(packed: Float64Array, from: Int32Array, a: number, b: number): number {
  let sum = 0
  for (let u = 0; u < from.length; u++) sum += packed[from[u]! + a]! * packed[from[u]! + b]!
  return sum
}

function rightOf(
  packed: Float64Array,
  k: number,
  from: Int32Array,
  y: Float64Array,
  used: Int32Array,
): Float64Array {
  const right = new Float64Array(k)
  for (let a = 0; a < k; a++) right[a] = productWith(packed, from, a, y, used)
  return right
}

function productWith(
  packed: Float64Array,
  from: Int32Array,
  a: number,
  y: Float64Array,
  used: Int32Array,
): number {
  let sum = 0
  for (let u = 0; u < used.length; u++) sum += packed[from[u]! + a]! * y[used[u]!]!
  return sum
}

/** Fills the residuals of the rows in use; gives their weighted sum of squares. */
function residualsOf(
  packed: Float64Array,
  k: number,
  from: Int32Array,
  y: Float64Array,
  used: Int32Array,
  weights: Float64Array,
  coefficients: Float64Array,
  residuals: Float64Array,
): number {
  let sum = 0
  for (let u = 0; u < used.length; u++) {
    const i = used[u]!
    let fitted = 0
    const at = from[u]!
    for (let a = 0; a < k; a++) fitted += coefficients[a]! * packed[at + a]!
    const off = y[i]! - fitted
    residuals[i] = off
    sum += weights[u]! * off * off
  }
  return sum
}

/** Huber's weights; gives how many rows lie outside the bend. */
function reweigh(residuals: Float64Array, used: Int32Array, bend: number, weights: Float64Array): number {
  let outside = 0
  for (let u = 0; u < used.length; u++) {
    const size = Math.abs(residuals[used[u]!]!) / bend
    weights[u] = size > FAR ? 0 : size > 1 ? 1 / size : 1
    if (size > 1) outside++
  }
  return outside
}

/** Scores summed over the rows of each block, and which blocks have any. */
function addScores(
  packed: Float64Array,
  k: number,
  from: Int32Array,
  used: Int32Array,
  weights: Float64Array,
  residuals: Float64Array,
  blockOf: Int32Array,
  scores: Float64Array,
  carries: Uint8Array,
): void {
  for (let u = 0; u < used.length; u++) {
    const i = used[u]!
    const block = blockOf[i]!
    carries[block] = 1
    const pull = weights[u]! * residuals[i]!
    const at = from[u]!
    for (let a = 0; a < k; a++) scores[block * k + a]! += pull * packed[at + a]!
  }
}

/** Takes off Gram matrix and right side what the rows weigh less than 1: few rows, so a round costs little. */
function takeOff(
  packed: Float64Array,
  k: number,
  from: Int32Array,
  y: Float64Array,
  used: Int32Array,
  weights: Float64Array,
  gram: Float64Array,
  right: Float64Array,
): void {
  for (let u = 0; u < used.length; u++) {
    const less = 1 - weights[u]!
    if (less === 0) continue
    const at = from[u]!
    for (let a = 0; a < k; a++) {
      const pulled = less * packed[at + a]!
      right[a]! -= pulled * y[used[u]!]!
      for (let b = 0; b <= a; b++) gram[a * k + b]! -= pulled * packed[at + b]!
    }
  }
  for (let a = 0; a < k; a++) for (let b = 0; b < a; b++) gram[b * k + a] = gram[a * k + b]!
}

/** Robust spread of at most 1000 of the residuals. */
function sampledSpread(residuals: Float64Array, used: Int32Array): number {
  const stride = Math.max(1, Math.floor(used.length / 1000))
  const sizes = new Float64Array(Math.ceil(used.length / stride))
  for (let u = 0, at = 0; u < used.length; u += stride) sizes[at++] = Math.abs(residuals[used[u]!]!)
  return selectInPlace(sizes, sizes.length >> 1) * MAD_TO_SIGMA
}
