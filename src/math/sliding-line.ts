/**
 * The straight line through the samples within ± `halfS` of each sample: its level there (a smoothing that leaves ramps
 * alone) and its slope per second (a derivative that noise does not blow up). NaN under three finite samples in the
 * window. Running sums over an hour keep nine digits.
 */
export function slidingLine(
  timeS: ArrayLike<number>,
  values: ArrayLike<number>,
  halfS: number,
): { level: Float64Array; slope: Float64Array } {
  const n = timeS.length
  const level = new Float64Array(n).fill(Number.NaN)
  const slope = new Float64Array(n).fill(Number.NaN)
  let from = 0
  let to = 0
  let count = 0
  let sumT = 0
  let sumV = 0
  let sumTT = 0
  let sumTV = 0
  for (let i = 0; i < n; i++) {
    for (; to < n && timeS[to]! <= timeS[i]! + halfS; to++) {
      const v = values[to]!
      if (!Number.isFinite(v)) continue
      const t = timeS[to]! - timeS[0]!
      count++
      sumT += t
      sumV += v
      sumTT += t * t
      sumTV += t * v
    }
    for (; timeS[from]! < timeS[i]! - halfS; from++) {
      const v = values[from]!
      if (!Number.isFinite(v)) continue
      const t = timeS[from]! - timeS[0]!
      count--
      sumT -= t
      sumV -= v
      sumTT -= t * t
      sumTV -= t * v
    }
    if (count < 3) continue
    const bottom = sumTT - (sumT * sumT) / count
    if (!(bottom > 1e-9)) continue
    const rise = (sumTV - (sumT * sumV) / count) / bottom
    slope[i] = rise
    level[i] = sumV / count + rise * (timeS[i]! - timeS[0]! - sumT / count)
  }
  return { level, slope }
}

export function slidingSlope(
  timeS: ArrayLike<number>,
  values: ArrayLike<number>,
  halfS: number,
): Float64Array {
  return slidingLine(timeS, values, halfS).slope
}
