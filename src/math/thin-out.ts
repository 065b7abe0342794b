import type { Span } from '../../shared/units.ts'

/**
 * A line's points thinned to at most two a bucket of time, the lowest and the highest in the order they came. Spikes
 * stay. NaN points break the line and stay.
 */
export function thinOut(
  timeS: ArrayLike<number>,
  values: ArrayLike<number>,
  [fromS, toS]: Span,
  buckets: number,
): { timeS: number[]; values: number[] } {
  const outT: number[] = []
  const outV: number[] = []
  let bucket = -1
  let low = -1
  let high = -1
  const flush = () => {
    if (low < 0) return
    for (const i of low === high ? [low] : low < high ? [low, high] : [high, low]) {
      outT.push(timeS[i]!)
      outV.push(values[i]!)
    }
    low = high = -1
  }
  for (let i = 0; i < timeS.length; i++) {
    const t = timeS[i]!
    if (t < fromS) continue
    if (t > toS) break
    const value = values[i]!
    const at = Math.floor(((t - fromS) / (toS - fromS)) * buckets)
    if (at !== bucket || Number.isNaN(value)) flush()
    bucket = at
    if (Number.isNaN(value)) {
      if (!Number.isNaN(outV[outV.length - 1] ?? Number.NaN)) {
        outT.push(t)
        outV.push(Number.NaN)
      }
      continue
    }
    if (low < 0 || value < values[low]!) low = i
    if (high < 0 || value > values[high]!) high = i
  }
  flush()
  return { timeS: outT, values: outV }
}
