/**
 * Slope of the straight line through the samples within ± `halfS` of each sample: a derivative that noise does not
 * blow up. In units of `values` per second; NaN under three finite samples in the window.
 * Running sums are kept relative to the first sample, so long drives lose no digits that matter (1e-9 relative).
 */
export function slidingSlope(
  timeS: ArrayLike<number>,
  values: ArrayLike<number>,
  halfS: number,
): Float64Array {
  const n = timeS.length
  const slope = new Float64Array(n).fill(Number.NaN)
  let from = 0
  let to = 0
  let count = 0
  let sumT = 0
  let sumV = 0
  let sumTT = 0
  let sumTV = 0
  const add = (i: number, sign: 1 | -1): void => {
    const v = values[i]!
    if (!Number.isFinite(v)) return
    const t = timeS[i]! - timeS[0]!
    count += sign
    sumT += sign * t
    sumV += sign * v
    sumTT += sign * t * t
    sumTV += sign * t * v
  }
  for (let i = 0; i < n; i++) {
    while (to < n && timeS[to]! <= timeS[i]! + halfS) add(to++, 1)
    while (timeS[from]! < timeS[i]! - halfS) add(from++, -1)
    if (count < 3) continue
    const denominator = sumTT - (sumT * sumT) / count
    if (denominator > 1e-9) slope[i] = (sumTV - (sumT * sumV) / count) / denominator
  }
  return slope
}
