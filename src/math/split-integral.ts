/** ∫ of the positive and of the negative part of a line through samples, and where it could not be taken. */
export interface SplitIntegral {
  /** ∫ max(y, 0) dt */
  readonly above: number
  /** ∫ max(−y, 0) dt */
  readonly below: number
  /** Seconds with y > 0 and y < 0. */
  readonly aboveS: number
  readonly belowS: number
  /** Seconds between samples further apart than `maxGapS`. */
  readonly gapsS: number
}

/**
 * Trapezium rule, each interval split where the line crosses zero. Samples that are not finite are left out and
 * bridged up to `maxGapS`; longer gaps are left out and counted. `every` takes each n-th sample from `first`, to see
 * what a slower log would have found.
 */
export function splitIntegral(
  timeS: ArrayLike<number>,
  values: ArrayLike<number>,
  maxGapS: number,
  every = 1,
  first = 0,
): SplitIntegral {
  let above = 0
  let below = 0
  let aboveS = 0
  let belowS = 0
  let gapsS = 0
  let last = -1
  for (let i = first; i < timeS.length; i += every) {
    if (!Number.isFinite(values[i]!)) continue
    if (last >= 0) {
      const dt = timeS[i]! - timeS[last]!
      const a = values[last]!
      const b = values[i]!
      if (dt > maxGapS * Math.max(1, every)) gapsS += dt
      else if (a >= 0 && b >= 0) {
        above += ((a + b) / 2) * dt
        if (a + b > 0) aboveS += dt
      } else if (a <= 0 && b <= 0) {
        below -= ((a + b) / 2) * dt
        belowS += dt
      } else {
        const share = a / (a - b)
        const up = a > 0 ? share : 1 - share
        const peak = Math.max(a, b)
        const dip = Math.min(a, b)
        above += (peak / 2) * up * dt
        below -= (dip / 2) * (1 - up) * dt
        aboveS += up * dt
        belowS += (1 - up) * dt
      }
    }
    last = i
  }
  return { above, below, aboveS, belowS, gapsS }
}
