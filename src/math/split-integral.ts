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
        above += meanAbove(high, low) * dt
        below += meanAbove(-low, -high) * dt
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

/** Mean of the positive part of a line from `high` to `low`. */
function meanAbove(high: number, low: number): number {
  if (!(high > 0)) return 0
  return low < 0 ? ((high / 2) * high) / (high - low) : (high + low) / 2
}

/** The same integrals up to each sample: running sums of the positive and of the negative part. */
export function runningSplit(
  timeS: ArrayLike<number>,
  values: ArrayLike<number>,
  maxGapS: number,
): { readonly above: Float64Array; readonly below: Float64Array } {
  const above = new Float64Array(timeS.length)
  const below = new Float64Array(timeS.length)
  let last = -1
  for (let i = 0; i < timeS.length; i++) {
    above[i] = above[i - 1] ?? 0
    below[i] = below[i - 1] ?? 0
    if (!Number.isFinite(values[i]!)) continue
    if (last >= 0 && timeS[i]! - timeS[last]! <= maxGapS) {
      const dt = timeS[i]! - timeS[last]!
      const high = Math.max(values[last]!, values[i]!)
      const low = Math.min(values[last]!, values[i]!)
      above[i]! += meanAbove(high, low) * dt
      below[i]! += meanAbove(-low, -high) * dt
    }
    last = i
  }
  return { above, below }
}
