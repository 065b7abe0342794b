/** Pearson's correlation over the pairs in which both are finite; NaN under three pairs or without spread. */
export function correlation(
  x: ArrayLike<number>,
  y: ArrayLike<number>,
): { readonly r: number; readonly pairs: number; readonly slope: number } {
  let n = 0
  let meanX = 0
  let meanY = 0
  let xx = 0
  let yy = 0
  let xy = 0
  for (let i = 0; i < x.length; i++) {
    if (!Number.isFinite(x[i]! + y[i]!)) continue
    n++
    const dx = x[i]! - meanX
    const dy = y[i]! - meanY
    meanX += dx / n
    meanY += dy / n
    xx += dx * (x[i]! - meanX)
    yy += dy * (y[i]! - meanY)
    xy += dx * (y[i]! - meanY)
  }
  const r = n < 3 || xx <= 0 || yy <= 0 ? Number.NaN : xy / Math.sqrt(xx * yy)
  return { r, pairs: n, slope: xx > 0 ? xy / xx : Number.NaN }
}
