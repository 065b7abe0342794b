import type { Span } from '../../../shared/units.ts'

/**
 * Stretches without a sample, longer than `times` sample periods and than `leastS`; at most `most`, longest first
 * kept, in order of time.
 * @param periodS typical spacing
 */
export function findGaps(
  timeS: ArrayLike<number>,
  periodS: number,
  times = 5,
  leastS = 0.5,
  most = 50,
): Span[] {
  const limit = Math.max(times * periodS, leastS)
  if (!(limit > 0)) return []
  const gaps: Span[] = []
  for (let i = 1; i < timeS.length; i++)
    if (timeS[i]! - timeS[i - 1]! > limit) gaps.push([timeS[i - 1]!, timeS[i]!])
  if (gaps.length <= most) return gaps
  return gaps
    .sort((a, b) => b[1] - b[0] - (a[1] - a[0]))
    .slice(0, most)
    .sort((a, b) => a[0] - b[0])
}
