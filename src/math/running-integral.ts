/**
 * ∫ value dt by the trapezium rule, from the start up to any moment between samples; NaN outside the samples and inside
 * gaps longer than `maxGapS`. Samples that are not finite add nothing. The function keeps its place, so ascending
 * moments cost a step each.
 */
export function integral(
  timeS: ArrayLike<number>,
  values: ArrayLike<number>,
  maxGapS: number,
): (at: number) => number {
  const n = timeS.length
  const sum = new Float64Array(n)
  for (let i = 1; i < n; i++) {
    const area = ((values[i - 1]! + values[i]!) / 2) * (timeS[i]! - timeS[i - 1]!)
    sum[i] = sum[i - 1]! + (Number.isFinite(area) ? area : 0)
  }
  let place = 0
  return (at) => {
    if (n < 2 || at < timeS[0]! || at > timeS[n - 1]!) return Number.NaN
    if (place >= n - 1 || timeS[place]! > at) place = 0
    if (timeS[place + 1]! < at) place = Math.max(place, bisect(timeS, at))
    while (place + 1 < n - 1 && timeS[place + 1]! <= at) place++
    const gap = timeS[place + 1]! - timeS[place]!
    if (gap > maxGapS) return Number.NaN
    return sum[place]! + (gap > 0 ? ((at - timeS[place]!) / gap) * (sum[place + 1]! - sum[place]!) : 0)
  }
}

/** Last sample at or before a moment. */
function bisect(timeS: ArrayLike<number>, at: number): number {
  let low = 0
  let high = timeS.length
  while (low < high) {
    const middle = (low + high) >>> 1
    if (timeS[middle]! <= at) low = middle + 1
    else high = middle
  }
  return Math.max(0, low - 1)
}
