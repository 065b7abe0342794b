import { cubicAt, smoothOnGrid } from '../math/kernel-smooth.ts'
import type { ClockPair } from './clock-pairs.ts'

/** First log's own time = second log's · (1 + rate) + lagS at the second's time 0. */
export interface Mapping {
  readonly lagS: number
  readonly rate: number
}

/** How far one window of one pair lies from a mapping, in seconds, with its standard error. */
export interface WindowLag {
  readonly pair: number
  /** Middle of the window in the second log's own time. */
  readonly atS: number
  readonly lagS: number
  readonly errorS: number
}

const LEAST_SIGMA_S = 0.04

/**
 * Lags below a sample, window by window.
 *
 * Model in one window: y(t) = a + b·x(m(t) + δ) + noise; x, y the first and second log's reading, both band-limited by
 * the same Gaussian (σ = the slower one's spacing, so that neither's sampling shows), m the mapping so far. δ is where
 * the residual is smallest: scanned over ± reach, then refined by parabolas.
 * Error of δ: residual spread / (|b|·√Σ x′²), widened by the length over which smoothed noise hangs together
 * (2√π σ a grid step).
 * Biased by: a constant delay of one sensor against the other, which no log can tell from its clock.
 */
export function windowLags(
  pairs: readonly ClockPair[],
  mapping: Mapping,
  reachS: number,
  windowS: number,
): WindowLag[] {
  return pairs.flatMap((pair, number) => {
    const sigma = Math.max(LEAST_SIGMA_S, pair.first.periodS, pair.second.periodS)
    const step = sigma / 2
    const x = gridOf(pair.first, step, sigma)
    const y = gridOf(pair.second, step, sigma)
    const perWindow = Math.max(20, Math.round(windowS / step))
    const found: WindowLag[] = []
    for (let from = 0; from + perWindow / 2 < y.values.length; from += perWindow) {
      const to = Math.min(y.values.length, from + perWindow)
      const lag = bestLag(x, y, from, to, step, sigma, mapping, reachS)
      if (lag) found.push({ pair: number, atS: y.fromS + ((from + to) / 2) * step, ...lag })
    }
    return found
  })
}

interface Grid {
  readonly fromS: number
  readonly values: Float64Array
}

function gridOf(reading: ClockPair['first'], stepS: number, sigmaS: number): Grid {
  const fromS = reading.timeS[0]!
  const count = Math.min(
    4_000_000,
    Math.floor((reading.timeS[reading.timeS.length - 1]! - fromS) / stepS) + 1,
  )
  return { fromS, values: smoothOnGrid(reading.timeS, reading.values, fromS, stepS, count, sigmaS) }
}

function bestLag(
  x: Grid,
  y: Grid,
  from: number,
  to: number,
  stepS: number,
  sigmaS: number,
  mapping: Mapping,
  reachS: number,
): { lagS: number; errorS: number } | null {
  const fit = (delta: number): Fit => fitAt(x, y, from, to, stepS, mapping, delta)
  let best = 0
  let bestFit = fit(0)
  for (let delta = -reachS; delta <= reachS; delta += sigmaS) {
    const tried = fit(delta)
    if (tried.pairs >= 0.5 * (to - from) && !(tried.r2 <= bestFit.r2)) {
      best = delta
      bestFit = tried
    }
  }
  if (!(bestFit.r2 > 0.3) || Math.abs(best) > reachS - sigmaS) return null
  for (let width = sigmaS; width > sigmaS / 40; width /= 3) {
    const below = fit(best - width).r2
    const above = fit(best + width).r2
    const bend = below - 2 * bestFit.r2 + above
    if (!(bend < 0)) break
    const move = Math.max(-width, Math.min(width, (0.5 * width * (below - above)) / bend))
    const tried = fit(best + move)
    if (tried.r2 >= bestFit.r2) {
      best += move
      bestFit = tried
    }
  }
  if (bestFit.pairs < 0.5 * (to - from) || !(bestFit.r2 > 0.3)) return null
  const dependent = (2 * Math.sqrt(Math.PI) * sigmaS) / stepS
  const errorS = Math.sqrt((bestFit.residual / bestFit.slopes) * dependent)
  return errorS < sigmaS ? { lagS: best, errorS } : null
}

interface Fit {
  readonly r2: number
  readonly pairs: number
  /** Mean square of the residual. */
  readonly residual: number
  /** b² Σ x′². */
  readonly slopes: number
}

function fitAt(
  x: Grid,
  y: Grid,
  from: number,
  to: number,
  stepS: number,
  mapping: Mapping,
  delta: number,
): Fit {
  let n = 0
  let sx = 0
  let sy = 0
  let xx = 0
  let yy = 0
  let xy = 0
  let slopes = 0
  let last = Number.NaN
  const y0 = y.values[from]!
  for (let k = from; k < to; k++) {
    const own = y.fromS + k * stepS
    const at = (own * (1 + mapping.rate) + mapping.lagS + delta - x.fromS) / stepS
    const u = cubicAt(x.values, at)
    const v = y.values[k]! - (Number.isNaN(y0) ? 0 : y0)
    if (Number.isNaN(u) || Number.isNaN(v)) {
      last = Number.NaN
      continue
    }
    n++
    sx += u
    sy += v
    xx += u * u
    yy += v * v
    xy += u * v
    const rise = (u - last) / stepS
    if (!Number.isNaN(rise)) slopes += rise * rise
    last = u
  }
  const cxx = xx - (sx * sx) / n
  const cyy = yy - (sy * sy) / n
  const cxy = xy - (sx * sy) / n
  if (n < 8 || !(cxx > 1e-12 * xx) || !(cyy > 1e-12 * yy))
    return { r2: Number.NaN, pairs: n, residual: Number.NaN, slopes: 0 }
  const b = cxy / cxx
  return {
    r2: (cxy * cxy) / (cxx * cyy),
    pairs: n,
    residual: Math.max(0, cyy - b * cxy) / (n - 3),
    slopes: b * b * slopes,
  }
}
