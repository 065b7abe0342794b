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
