/**
 * The assignment of rows to columns with the highest sum of scores; each row and column at most once, a pair with
 * score 0 or less is left open.
 *
 * Shortest augmenting paths with potentials (Jonker and Volgenant's form of the Hungarian method, from memory), O(n³).
 * @param scores rows of equal length
 * @returns for each row its column, or −1
 */
export function bestAssignment(scores: readonly (readonly number[])[]): number[] {
  const rows = scores.length
  const real = scores[0]?.length ?? 0
  if (rows === 0 || real === 0) return new Array<number>(rows).fill(-1)
  // One spare column per row, at score 0, so that a row may stay open.
  const columns = real + rows
  const cost = (row: number, column: number): number =>
    column < real ? -Math.max(0, scores[row]![column]!) : 0
  const rowPotential = new Float64Array(rows + 1)
  const columnPotential = new Float64Array(columns + 1)
  const rowOf = new Int32Array(columns + 1)
  const way = new Int32Array(columns + 1)
  for (let row = 1; row <= rows; row++) {
    rowOf[0] = row
    let at = 0
    const least = new Float64Array(columns + 1).fill(Number.POSITIVE_INFINITY)
    const done = new Uint8Array(columns + 1)
    do {
      done[at] = 1
      const from = rowOf[at]!
      let delta = Number.POSITIVE_INFINITY
      let next = 0
      for (let column = 1; column <= columns; column++) {
        if (done[column]) continue
        const reduced = cost(from - 1, column - 1) - rowPotential[from]! - columnPotential[column]!
        if (reduced < least[column]!) {
          least[column] = reduced
          way[column] = at
        }
        if (least[column]! < delta) {
          delta = least[column]!
          next = column
        }
      }
      for (let column = 0; column <= columns; column++)
        if (done[column]) {
          rowPotential[rowOf[column]!]! += delta
          columnPotential[column]! -= delta
        } else least[column]! -= delta
      at = next
    } while (rowOf[at] !== 0)
    do {
      const before = way[at]!
      rowOf[at] = rowOf[before]!
      at = before
    } while (at !== 0)
  }
  const result = new Array<number>(rows).fill(-1)
  for (let column = 1; column <= real; column++) {
    const row = rowOf[column]! - 1
    if (row >= 0 && scores[row]![column - 1]! > 0) result[row] = column - 1
  }
  return result
}
