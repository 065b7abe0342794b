/**
 * A series with its own times on an even grid, band-limited: at each grid moment the value of the straight line
 * fitted to the samples around it with Gaussian weights (local-linear regression), so that uneven samples do not pull
 * it towards their side.
 *
 *     weight of sample i at moment g:  exp(−(tᵢ − g)² / 2σ²),  |tᵢ − g| ≤ 3.5 σ
 *
 * NaN where fewer than two samples are near, or all lie further than 1.5 σ to one side.
 * @param timeS never falling; NaN values are passed over
 * Source: local-linear kernel regression, Fan 1992 (from memory).
 */
export function smoothOnGrid(
  timeS: ArrayLike<number>,
  values: ArrayLike<number>,
  fromS: number,
  stepS: number,
  count: number,
  sigmaS: number,
): Float64Array {
  const out = new Float64Array(count).fill(Number.NaN)
  const reach = 3.5 * sigmaS
  const sharp = -0.5 / (sigmaS * sigmaS)
  let first = 0
  for (let k = 0; k < count; k++) {
    const moment = fromS + k * stepS
    while (first < timeS.length && timeS[first]! < moment - reach) first++
    let w0 = 0
    let w1 = 0
    let w2 = 0
    let v0 = 0
    let v1 = 0
    let before = Number.POSITIVE_INFINITY
    let after = Number.POSITIVE_INFINITY
    for (let i = first; i < timeS.length; i++) {
      const d = timeS[i]! - moment
      if (d > reach) break
      const value = values[i]!
      if (Number.isNaN(value)) continue
      const w = Math.exp(sharp * d * d)
      w0 += w
      w1 += w * d
      w2 += w * d * d
      v0 += w * value
      v1 += w * d * value
      if (d <= 0) before = Math.min(before, -d)
      if (d >= 0) after = Math.min(after, d)
    }
    const spread = w0 * w2 - w1 * w1
    if (before > 1.5 * sigmaS || after > 1.5 * sigmaS) continue
    out[k] = spread > 1e-9 * w0 * w0 * sigmaS * sigmaS ? (w2 * v0 - w1 * v1) / spread : v0 / w0
  }
  return out
}

/** The series less its moving mean over ± `half` entries: no trend, no offset. NaN stays NaN. */
export function withoutTrend(values: Float64Array, half: number): Float64Array {
  const n = values.length
  const sums = new Float64Array(n + 1)
  const counts = new Float64Array(n + 1)
  for (let i = 0; i < n; i++) {
    const known = !Number.isNaN(values[i]!)
    sums[i + 1] = sums[i]! + (known ? values[i]! : 0)
    counts[i + 1] = counts[i]! + (known ? 1 : 0)
  }
  return values.map((value, i) => {
    const low = Math.max(0, i - half)
    const high = Math.min(n, i + half + 1)
    return value - (sums[high]! - sums[low]!) / (counts[high]! - counts[low]!)
  })
}

/** A gridded series between its grid moments, by the cubic through four neighbours; NaN at the ends and at holes. */
export function cubicAt(values: Float64Array, position: number): number {
  const i = Math.floor(position)
  if (i < 1 || i + 2 >= values.length) return Number.NaN
  const u = position - i
  const a = values[i - 1]!
  const b = values[i]!
  const c = values[i + 1]!
  const d = values[i + 2]!
  return (
    (-u * (u - 1) * (u - 2) * a) / 6 +
    ((u + 1) * (u - 1) * (u - 2) * b) / 2 -
    ((u + 1) * u * (u - 2) * c) / 2 +
    ((u + 1) * u * (u - 1) * d) / 6
  )
}
