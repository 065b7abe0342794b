import { quantile } from './stats.ts'

/**
 * Spread of single samples about a smooth course, from second differences: a constant or straight course gives none.
 * The 16th percentile of |y[i] − (y[i−1] + y[i+1]) / 2| is 0.2 spreads of it (normal noise, from the error function),
 * and its spread is √1.5 of a sample's; a low percentile, so that real movement adds little.
 */
export function sampleNoise(values: Float64Array): number {
  const bends = values.map((value, i) =>
    i > 0 && i + 1 < values.length ? Math.abs(value - (values[i - 1]! + values[i + 1]!) / 2) : Number.NaN,
  )
  return quantile(bends, 0.16) / 0.2019 / Math.sqrt(1.5)
}
