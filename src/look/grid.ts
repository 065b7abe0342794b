/** Moments at which candidates and channels are held side by side. */
export const POINTS = 1200

/**
 * Values at even moments by straight lines between samples; NaN beyond the ends and in gaps of over `longestS`.
 * @param timeS never falling
 */
export function onGrid(
  timeS: ArrayLike<number>,
  values: ArrayLike<number>,
  fromS: number,
  toS: number,
  points: number,
  longestS: number,
): Float64Array {
  const out = new Float64Array(points).fill(Number.NaN)
  const n = timeS.length
  if (n < 2) return out
  let i = 0
  for (let p = 0; p < points; p++) {
    const t = fromS + ((toS - fromS) * p) / (points - 1)
    if (t < timeS[0]! || t > timeS[n - 1]!) continue
    while (i + 2 < n && timeS[i + 1]! < t) i++
    const gap = timeS[i + 1]! - timeS[i]!
    if (gap > longestS) continue
    const share = gap > 0 ? (t - timeS[i]!) / gap : 0
    out[p] = values[i]! + (values[i + 1]! - values[i]!) * share
  }
  return out
}

/** The usual distance between samples, s. */
export function usualGap(timeS: ArrayLike<number>): number {
  const n = timeS.length
  if (n < 2) return Number.POSITIVE_INFINITY
  const step = Math.max(1, Math.floor(n / 500))
  const gaps: number[] = []
  for (let i = 1; i < n; i += step) gaps.push(timeS[i]! - timeS[i - 1]!)
  gaps.sort((a, b) => a - b)
  return gaps[gaps.length >> 1]!
}

/** Longest gap that a line is drawn over. */
export const longestGap = (timeS: ArrayLike<number>): number => Math.max(2, 4 * usualGap(timeS))
