/** ∫ of the positive and of the negative part of a line through samples, and what the samples leave open. */
export interface SplitIntegral {
  /** ∫ max(y, 0) dt */
  readonly above: number
  /** ∫ max(−y, 0) dt */
  readonly below: number
  /** Seconds with y > 0 and y < 0. */
  readonly aboveS: number
  readonly belowS: number
  /** Standard error of `above` and of `below` from what may have happened between samples. */
  readonly aboveError: number
  readonly belowError: number
  /** Seconds between samples further apart than `maxGapS`. */
  readonly gapsS: number
}

/**
 * Trapezium rule, each interval split where the line crosses zero. Samples that are not finite are left out and
 * bridged up to `maxGapS`; longer gaps are left out and counted.
 * Error: a change Δy between samples dt apart may have been a step at any moment between them, so that the interval is
 * off by Δy·dt / √12 (uniform); intervals are taken as independent. Generous for a signal that moves smoothly.
 */
export function splitIntegral(
  timeS: ArrayLike<number>,
  values: ArrayLike<number>,
  maxGapS: number,
): SplitIntegral {
  let above = 0
  let below = 0
  let aboveS = 0
  let belowS = 0
  let aboveSquares = 0
  let belowSquares = 0
  let gapsS = 0
  let last = -1
  for (let i = 0; i < timeS.length; i++) {
    if (!Number.isFinite(values[i]!)) continue
    if (last >= 0) {
      const dt = timeS[i]! - timeS[last]!
      const a = values[last]!
      const b = values[i]!
      if (dt > maxGapS) gapsS += dt
      else {
        const [high, low] = a > b ? [a, b] : [b, a]
        const up = low >= 0 ? (high > 0 ? 1 : 0) : high <= 0 ? 0 : high / (high - low)
        const down = high <= 0 ? (low < 0 ? 1 : 0) : low >= 0 ? 0 : 1 - up
        above += ((Math.max(high, 0) + Math.max(low, 0)) / 2) * (low < 0 ? up : 1) * dt
        below += ((Math.max(-high, 0) + Math.max(-low, 0)) / 2) * (high > 0 ? down : 1) * dt
        aboveS += up * dt
        belowS += down * dt
        aboveSquares += ((Math.max(high, 0) - Math.max(low, 0)) * dt) ** 2 / 12
        belowSquares += ((Math.max(-low, 0) - Math.max(-high, 0)) * dt) ** 2 / 12
      }
    }
    last = i
  }
  return {
    above,
    below,
    aboveS,
    belowS,
    aboveError: Math.sqrt(aboveSquares),
    belowError: Math.sqrt(belowSquares),
    gapsS,
  }
}
