import type { RepeatedBlock } from '../../../shared/drive.ts'

/** In own time. */
export type RepeatedRows = RepeatedBlock

/** Do rows `a` and `b` hold the same values? */
export type SameRow = (a: number, b: number) => boolean

/** Fewer rows alike may be chance. */
const LEAST_ROWS = 5

/**
 * Where time goes back at row `i`: are the rows from there on those of an earlier stretch, stamp by stamp and value by
 * value? A recorder that flushed a block twice writes so; a clock that was set back does not.
 *
 *     row     …  7    8    9   10   11   12   13
 *     stamp   …  0.7  0.8  0.9  0.7  0.8  0.9  1.0       rows 10 to 12 are rows 7 to 9: left out
 *
 * A car at rest writes rows alike: the block has to hold something that moved.
 * @param stamps straightened before `i`, as written from there; @param shift what straightens those
 */
export function repeatedFrom(
  stamps: Float64Array,
  i: number,
  shift: number,
  period: number,
  sameRow: SameRow | undefined,
): Omit<RepeatedRows, 'at_s'> | null {
  if (!sameRow) return null
  const near = Math.min(1e-3, 0.01 * period)
  let from = i - 1
  while (from >= 0 && !(stamps[from]! <= stamps[i]! + shift + near)) from--
  if (from < 0 || Math.abs(stamps[from]! - stamps[i]! - shift) > near) return null
  // rows of slow and fast channels may share a stamp
  while (from > 0 && Math.abs(stamps[from - 1]! - stamps[i]! - shift) <= near) from--
  let rows = 0
  while (
    i + rows < stamps.length &&
    from + rows < i &&
    Math.abs(stamps[from + rows]! - stamps[i + rows]! - shift) <= near &&
    sameRow(from + rows, i + rows)
  )
    rows++
  if (rows < LEAST_ROWS) return null
  let moves = false
  for (let k = 1; k < rows && !moves; k++) moves = !sameRow(i, i + k)
  return moves ? { rows, length_s: stamps[from + rows - 1]! - stamps[from]! + period } : null
}
