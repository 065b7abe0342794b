/** The rows of a table that several time bases share. */
export interface SharedRows {
  /** The moment of each row, s. */
  readonly timeS: Float64Array
  /** By time base: the row of each of its samples, rising. */
  readonly rowOf: readonly Int32Array[]
}

/**
 * Several time bases in one table, nothing resampled: a moment that bases share is one row, every other one a row of
 * its own. A moment that a base holds twice takes two rows, so each base is found again sample by sample.
 *
 *     a  0.0 0.1     0.2          rows  0.0 0.1 0.15 0.2
 *     b  0.0     0.15                   a,b a   b    a
 */
export function shareRows(bases: readonly Float64Array[]): SharedRows {
  const total = bases.reduce((sum, base) => sum + base.length, 0)
  const timeS = new Float64Array(total)
  const rowOf = bases.map((base) => new Int32Array(base.length))
  const at = new Int32Array(bases.length)
  const open = bases.flatMap((base, b) => (base.length > 0 ? [b] : []))
  let rows = 0
  while (open.length > 0) {
    let next = Number.POSITIVE_INFINITY
    for (const b of open) if (bases[b]![at[b]!]! < next) next = bases[b]![at[b]!]!
    timeS[rows] = next
    for (let k = open.length - 1; k >= 0; k--) {
      const b = open[k]!
      if (bases[b]![at[b]!]! !== next) continue
      rowOf[b]![at[b]!++] = rows
      if (at[b] === bases[b]!.length) open.splice(k, 1)
    }
    rows++
  }
  return { timeS: timeS.slice(0, rows), rowOf }
}

/** Samples [first, last) of a base that lie in the rows [from, to). */
export function samplesInRows(rowOf: Int32Array, from: number, to: number): readonly [number, number] {
  return [firstNotBefore(rowOf, from), firstNotBefore(rowOf, to)]
}

function firstNotBefore(rowOf: Int32Array, row: number): number {
  let low = 0
  let high = rowOf.length
  while (low < high) {
    const middle = (low + high) >>> 1
    if (rowOf[middle]! < row) low = middle + 1
    else high = middle
  }
  return low
}
