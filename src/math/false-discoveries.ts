/**
 * Which of many tests tell something, so that of all that is told no more than a share is told falsely.
 *
 * Model:  p-values in rising order; the largest i with p(i) ≤ i · share / (m · c) and all below it are told. c = 1 holds
 *         for independent tests (Benjamini & Hochberg), c = 1 + 1/2 + … + 1/m whatever hangs together (Benjamini &
 *         Yekutieli). Where nothing is there at all, the chance of telling anything is at most that share.
 * Source: Benjamini & Hochberg, "Controlling the false discovery rate", J. R. Stat. Soc. B 57 (1995) 289; Benjamini &
 *         Yekutieli, Ann. Stat. 29 (2001) 1165. The first paper's worked example (15 p-values, 4 told) is in the test.
 */
export function discoveries(
  p: readonly number[],
  share: number,
  dependence: 'independent' | 'any' = 'any',
): boolean[] {
  const bar = discoveryBar(p, share, dependence)
  return p.map((each) => each <= bar)
}

/** The largest p-value that is told; −1 where none is. NaN is a test that was not made. */
export function discoveryBar(
  p: readonly number[],
  share: number,
  dependence: 'independent' | 'any' = 'any',
): number {
  const sorted = p.filter((each) => Number.isFinite(each)).sort((a, b) => a - b)
  const m = sorted.length
  const c = dependence === 'any' ? sorted.reduce((sum, _, i) => sum + 1 / (i + 1), 0) : 1
  for (let i = m; i > 0; i--) if (sorted[i - 1]! <= (i * share) / (m * c)) return sorted[i - 1]!
  return -1
}
