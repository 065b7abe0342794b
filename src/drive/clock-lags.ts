import { cubicAt, smoothOnGrid } from '../math/kernel-smooth.ts'
import { median } from '../math/stats.ts'
import type { ClockPair, Reading } from './clock-pairs.ts'

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
  /** Share of the window's variance that the pair has in common. */
  readonly r2: number
}

const LEAST_SIGMA_S = 0.04
/** From this ratio of spacings on, the sparse log's samples may be set against the dense one as they are. */
const SPARSE = 3

/**
 * Lags below a sample, window by window.
 *
 * Model in one window: y(t) = a + b·x(m(t) + δ) + noise; x the denser and y the sparser reading, m the mapping so far.
 * δ is where the residual is smallest: scanned over ± reach, then refined by parabolas. Two ways to look at it:
 *  - both band-limited by one Gaussian (σ = the slower one's spacing), so that neither's sampling shows: for logs of
 *    like rates and for boxes that average over their rows;
 *  - the sparse samples as they are against the dense log: exact for boxes that sample moments, where smoothing would
 *    only smear what lies between their samples.
 * The way under which more of the variance is common is taken.
 *
 * Error of δ: residual spread / (|b|·√Σ x′²), in the first way widened by the length over which smoothed noise hangs
 * together (2√π σ a step).
 * Biased by: a constant delay of one sensor against the other, which no log can tell from its clock.
 */
export function windowLags(
  pairs: readonly ClockPair[],
  mapping: Mapping,
  reachS: number,
  windowS: number,
): WindowLag[] {
  return pairs.flatMap((pair, number) => {
    const { first, second } = pair
    const slow = Math.max(first.periodS, second.periodS)
    const smooth = Math.max(LEAST_SIGMA_S, slow)
    const even = lagsOf(evenView(first, second, smooth), number, mapping, reachS, windowS)
    if (slow < SPARSE * Math.min(first.periodS, second.periodS)) return even
    const sparse = lagsOf(sparseView(first, second), number, mapping, reachS, Math.max(windowS, 40 * slow))
    return common(sparse) > common(even) ? sparse : even
  })
}

const common = (lags: readonly WindowLag[]): number =>
  lags.length === 0 ? 0 : median(lags.map((lag) => lag.r2))

/** Samples of one log, and the other one as a curve that they are set against. */
interface View {
  /** Own time of the samples' log, rising, and their values. */
  readonly timeS: Float64Array
  readonly values: Float64Array
  /** The samples are the second log's: the curve is read at m(t) + δ; else at the inverse of m, at t − δ. */
  readonly forward: boolean
  readonly curve: Grid
  /** Spacing of the lags to try first. */
  readonly scanS: number
  /** Neighbouring errors hang together over this many samples. */
  readonly dependent: number
}

interface Grid {
  readonly fromS: number
  readonly stepS: number
  readonly values: Float64Array
}

function evenView(first: Reading, second: Reading, sigmaS: number): View {
  const stepS = sigmaS / 2
  const curve = gridOf(first, stepS, sigmaS)
  const samples = gridOf(second, stepS, sigmaS)
  return {
    timeS: Float64Array.from(samples.values, (_, k) => samples.fromS + k * stepS),
    values: samples.values,
    forward: true,
    curve,
    scanS: sigmaS,
    dependent: (2 * Math.sqrt(Math.PI) * sigmaS) / stepS,
  }
}

function sparseView(first: Reading, second: Reading): View {
  const forward = second.periodS > first.periodS
  const [sparse, dense] = forward ? [second, first] : [first, second]
  const sigmaS = Math.max(LEAST_SIGMA_S / 4, dense.periodS)
  const curve = gridOf(dense, sigmaS / 2, sigmaS)
  const { timeS, values } = sparse
  return { timeS, values, forward, curve, scanS: Math.max(0.05, 2 * sigmaS), dependent: 1 }
}

function gridOf(reading: Reading, stepS: number, sigmaS: number): Grid {
  const fromS = reading.timeS[0]!
  const lastS = reading.timeS[reading.timeS.length - 1]!
  const count = Math.min(4_000_000, Math.floor((lastS - fromS) / stepS) + 1)
  return { fromS, stepS, values: smoothOnGrid(reading.timeS, reading.values, fromS, stepS, count, sigmaS) }
}

function lagsOf(view: View, pair: number, mapping: Mapping, reachS: number, windowS: number): WindowLag[] {
  const { timeS } = view
  const found: WindowLag[] = []
  for (let from = 0; from < timeS.length; ) {
    let to = from
    while (to < timeS.length && timeS[to]! < timeS[from]! + windowS) to++
    if (to - from >= 12) {
      const lag = bestLag(view, from, to, mapping, reachS)
      const own = (timeS[from]! + timeS[to - 1]!) / 2
      const atS = view.forward ? own : (own - mapping.lagS) / (1 + mapping.rate)
      if (lag) found.push({ pair, atS, ...lag })
    }
    from = to
  }
  return found
}

function bestLag(
  view: View,
  from: number,
  to: number,
  mapping: Mapping,
  reachS: number,
): { lagS: number; errorS: number; r2: number } | null {
  const { scanS } = view
  const fitAt = (delta: number): Fit => lineAt(view, from, to, mapping, delta)
  let best = 0
  let bestFit = fitAt(0)
  for (let delta = -reachS; delta <= reachS; delta += scanS) {
    const tried = fitAt(delta)
    if (tried.pairs >= 0.5 * (to - from) && !(tried.r2 <= bestFit.r2)) {
      best = delta
      bestFit = tried
    }
  }
  if (!(bestFit.r2 > 0.3) || Math.abs(best) > reachS - scanS) return null
  for (let width = scanS; width > scanS / 60; width /= 3) {
    const below = fitAt(best - width).r2
    const above = fitAt(best + width).r2
    const bend = below - 2 * bestFit.r2 + above
    if (!(bend < 0)) break
    const move = Math.max(-width, Math.min(width, (0.5 * width * (below - above)) / bend))
    const tried = fitAt(best + move)
    if (tried.r2 >= bestFit.r2) {
      best += move
      bestFit = tried
    }
  }
  if (bestFit.pairs < 0.5 * (to - from) || !(bestFit.r2 > 0.3)) return null
  const errorS = Math.sqrt((bestFit.residual / bestFit.slopes) * view.dependent)
  return errorS < Math.max(0.1, scanS) ? { lagS: best, errorS, r2: bestFit.r2 } : null
}

interface Fit {
  readonly r2: number
  readonly pairs: number
  /** Mean square of the residual. */
  readonly residual: number
  /** b² Σ x′². */
  readonly slopes: number
}

const NO_FIT: Fit = { r2: Number.NaN, pairs: 0, residual: Number.NaN, slopes: 0 }

function lineAt(view: View, from: number, to: number, mapping: Mapping, delta: number): Fit {
  const { timeS, values, curve, forward } = view
  const rate = 1 + mapping.rate
  let n = 0
  let sx = 0
  let sy = 0
  let xx = 0
  let yy = 0
  let xy = 0
  let slopes = 0
  let zero = Number.NaN
  for (let k = from; k < to; k++) {
    const own = timeS[k]!
    const other = forward ? own * rate + mapping.lagS + delta : (own - mapping.lagS - delta) / rate
    const place = (other - curve.fromS) / curve.stepS
    const u = cubicAt(curve.values, place)
    if (Number.isNaN(zero)) zero = values[k]!
    const v = values[k]! - zero
    if (Number.isNaN(u) || Number.isNaN(v)) continue
    n++
    sx += u
    sy += v
    xx += u * u
    yy += v * v
    xy += u * v
    const rise = (cubicAt(curve.values, place + 0.5) - cubicAt(curve.values, place - 0.5)) / curve.stepS
    if (!Number.isNaN(rise)) slopes += rise * rise
  }
  if (n < 8) return { ...NO_FIT, pairs: n }
  const cxx = xx - (sx * sx) / n
  const cyy = yy - (sy * sy) / n
  const cxy = xy - (sx * sy) / n
  if (!(cxx > 1e-12 * xx) || !(cyy > 1e-12 * yy)) return { ...NO_FIT, pairs: n }
  const b = cxy / cxx
  return {
    r2: (cxy * cxy) / (cxx * cyy),
    pairs: n,
    residual: Math.max(0, cyy - b * cxy) / (n - 3),
    slopes: b * b * slopes,
  }
}
