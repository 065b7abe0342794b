/**
 * Mean of the finite samples in each of `bins` equal bins from time 0 on; NaN in a bin without any.
 * Bin k holds the samples with k·stepS ≤ t < (k + 1)·stepS. Source: definition.
 */
export function binMeans(
  timeS: ArrayLike<number>,
  values: ArrayLike<number>,
  stepS: number,
  bins: number,
): Float64Array {
  const sums = new Float64Array(bins)
  const counts = new Uint32Array(bins)
  for (let i = 0; i < timeS.length; i++) {
    const bin = Math.floor(timeS[i]! / stepS)
    if (bin < 0 || bin >= bins || !Number.isFinite(values[i]!)) continue
    sums[bin]! += values[i]!
    counts[bin]!++
  }
  return sums.map((sum, bin) => (counts[bin]! > 0 ? sum / counts[bin]! : Number.NaN))
}
