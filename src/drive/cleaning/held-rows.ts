/** Fewer rows show no holding. */
const FEWEST_ROWS = 3
/** Fewer changes tell nothing of how a box writes; no source. */
const FEWEST_CHANGES = 10
/** Fewer changes show no rhythm; no source. */
const FEWEST_FOR_RHYTHM = 50

/**
 * Which rows only repeat the last reading of a group of columns that are read together (all cells, say).
 *
 *     cell 1   3.998 3.998 3.991 3.991
 *     cell 2   3.997 3.997 3.990 3.989
 *     fresh    1     0     1     1        a row where no column of the group changed is a repeat
 *
 * One quiet, coarse column repeats by itself, so a group of fewer than `least` columns must show the pattern of a
 * held row: changes that all lie two rows or more apart.
 *
 * @param group columns of one length, on one time base
 * @returns null where every row counts as fresh
 */
export function freshRows(group: readonly Float64Array[], least = 8): Uint8Array | null {
  const n = group[0]?.length ?? 0
  if (n < FEWEST_ROWS) return null
  const fresh = new Uint8Array(n)
  fresh[0] = 1
  let changes = 1
  for (const values of group)
    for (let i = 1; i < n; i++)
      if (!fresh[i] && !Object.is(values[i], values[i - 1]) && values[i] !== values[i - 1]) {
        fresh[i] = 1
        changes++
      }
  const repeats = n - changes
  if (repeats < 0.1 * n || changes < FEWEST_CHANGES) return null
  if (group.length >= least) return fresh
  return changesKeepApart(fresh, changes) ? fresh : null
}

/**
 * Do changes never fall on neighbouring rows (under 2 %), though many fall exactly k ≥ 2 rows apart? Then the row is
 * faster than what it holds. A slow quantity in coarse steps also keeps apart, but at no steady distance.
 */
function changesKeepApart(fresh: Uint8Array, changes: number): boolean {
  if (changes < FEWEST_FOR_RHYTHM) return false
  const apart = new Map<number, number>()
  let last = 0
  for (let i = 1; i < fresh.length; i++)
    if (fresh[i]) {
      apart.set(i - last, (apart.get(i - last) ?? 0) + 1)
      last = i
    }
  if ((apart.get(1) ?? 0) > 0.02 * changes) return false
  let most = 0
  for (const count of apart.values()) most = Math.max(most, count)
  return most > 0.4 * changes
}
