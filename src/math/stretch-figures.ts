/** Figures of a stretch of samples, NaN passed over. */
export interface StretchFigures {
  readonly samples: number
  readonly mean: number | null
  readonly min: number | null
  readonly max: number | null
  /** Trapezoid sum over pairs of neighbours up to `maxGapS` apart; unit of the values times seconds. */
  readonly integral: number | null
  /** Least-squares slope, unit per second; null under two moments. */
  readonly slopePerS: number | null
}

/** @param mean of the samples, not of time: a channel sent on change weighs its changes. */
export function stretchFigures(
  timeS: ArrayLike<number>,
  values: ArrayLike<number>,
  maxGapS = Number.POSITIVE_INFINITY,
): StretchFigures {
  let samples = 0
  let sum = 0
  let min = Number.POSITIVE_INFINITY
  let max = Number.NEGATIVE_INFINITY
  let integral = 0
  let sumT = 0
  let last = -1
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!
    if (Number.isNaN(value)) continue
    samples++
    sum += value
    sumT += timeS[i]!
    if (value < min) min = value
    if (value > max) max = value
    if (last >= 0 && timeS[i]! - timeS[last]! <= maxGapS)
      integral += ((value + values[last]!) / 2) * (timeS[i]! - timeS[last]!)
    last = i
  }
  if (samples === 0) return { samples, mean: null, min: null, max: null, integral: null, slopePerS: null }
  const mean = sum / samples
  const meanT = sumT / samples
  let sxy = 0
  let sxx = 0
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!
    if (Number.isNaN(value)) continue
    sxy += (timeS[i]! - meanT) * (value - mean)
    sxx += (timeS[i]! - meanT) ** 2
  }
  return {
    samples,
    mean,
    min,
    max,
    integral: samples > 1 ? integral : null,
    slopePerS: sxx > 0 ? sxy / sxx : null,
  }
}
