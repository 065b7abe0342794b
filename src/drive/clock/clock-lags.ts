import { cubicAt, smoothOnGrid } from '../../math/kernel-smooth.ts'
import { median } from '../../math/stats.ts'
import type { ClockPair, Reading } from './clock-pairs.ts'

/** Fewer readings of a window give no lag; no source. */
const FEWEST_IN_WINDOW = 12
/** Under it two windows do not show the same thing; no source. */
const LEAST_R2 = 0.3
/** Fewer pairs make any line fit; no source. */
const FEWEST_PAIRS = 8

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
/** Drives of many hours are smoothed a little more, so that the work does not grow with them. */
const MOST_SIGMAS = 250_000

const lengthOf = ({ timeS }: Reading): number => timeS[timeS.length - 1]! - timeS[0]!

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
  pairs: readonly PairViews[],
  mapping: Mapping,
  reachS: number,
  windowS: number,
): WindowLag[] {
  return pairs.flatMap((views, number) => {
    const even = lagsOf(views.even, number, mapping, reachS, windowS)
    if (!views.sparse) return even
    const sparse = lagsOf(views.sparse, number, mapping, reachS, Math.max(windowS, 40 * views.slowS))
    return common(sparse) > common(even) ? sparse : even
  })
}

/** A pair made ready for comparing, both ways. */
export interface PairViews {
  readonly even: View
  /** null where the two rates are alike. */
  readonly sparse: View | null
  readonly slowS: number
}

export function viewsOf({ first, second }: ClockPair): PairViews {
  const slowS = Math.max(first.periodS, second.periodS)
  const coarse = Math.max(lengthOf(first), lengthOf(second)) / MOST_SIGMAS
  const unlike = slowS >= SPARSE * Math.min(first.periodS, second.periodS)
  return {
    even: evenView(first, second, Math.max(LEAST_SIGMA_S, slowS, coarse)),
    sparse: unlike ? sparseView(first, second, coarse) : null,
    slowS,
  }
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

function sparseView(first: Reading, second: Reading, coarseS: number): View {
  const forward = second.periodS > first.periodS
  const [sparse, dense] = forward ? [second, first] : [first, second]
  const sigmaS = Math.max(LEAST_SIGMA_S / 4, dense.periodS, coarseS)
  const curve = gridOf(dense, sigmaS / 2, sigmaS)
  const { timeS, values } = sparse
  return { timeS, values, forward, curve, scanS: Math.max(0.05, 2 * sigmaS), dependent: 1 }
}

function gridOf(reading: Reading, stepS: number, sigmaS: number): Grid {
  const fromS = reading.timeS[0]!
  const count = Math.floor(lengthOf(reading) / stepS) + 1
  return { fromS, stepS, values: smoothOnGrid(reading.timeS, reading.values, fromS, stepS, count, sigmaS) }
}

function lagsOf(view: View, pair: number, mapping: Mapping, reachS: number, windowS: number): WindowLag[] {
  const { timeS } = view
  const found: WindowLag[] = []
  for (let from = 0; from < timeS.length; ) {
    let to = from
    while (to < timeS.length && timeS[to]! < timeS[from]! + windowS) to++
    if (to - from >= FEWEST_IN_WINDOW) {
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
  const fitAt = (delta: number, stride = 1): Fit => lineAt(view, from, to, mapping, delta, stride)
  // the scan only has to find the hill: a hundred samples show it
  const stride = Math.max(1, Math.min(4, Math.floor((to - from) / 100)))
  let best = 0
  let bestFit = fitAt(0, stride)
  for (let delta = -reachS; delta <= reachS; delta += scanS) {
    const tried = fitAt(delta, stride)
    if (tried.pairs >= (0.5 * (to - from)) / stride && !(tried.r2 <= bestFit.r2)) {
      best = delta
      bestFit = tried
    }
  }
  if (!(bestFit.r2 > LEAST_R2) || Math.abs(best) > reachS - scanS) return null
  bestFit = fitAt(best)
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
  if (bestFit.pairs < 0.5 * (to - from) || !(bestFit.r2 > LEAST_R2)) return null
  const slopes = bestFit.b ** 2 * slopesAt(view, from, to, mapping, best)
  const errorS = Math.sqrt((bestFit.residual / slopes) * view.dependent)
  return errorS < Math.max(0.1, scanS) ? { lagS: best, errorS, r2: bestFit.r2 } : null
}

interface Fit {
  readonly r2: number
  readonly pairs: number
  /** Mean square of the residual. */
  readonly residual: number
  readonly b: number
}

const NO_FIT: Fit = { r2: Number.NaN, pairs: 0, residual: Number.NaN, b: 0 }

/** Where sample k lies on the curve's grid. */
function placeOf({ timeS, curve, forward }: View, k: number, mapping: Mapping, delta: number): number {
  const own = timeS[k]!
  const rate = 1 + mapping.rate
  const other = forward ? own * rate + mapping.lagS + delta : (own - mapping.lagS - delta) / rate
  return (other - curve.fromS) / curve.stepS
}

/** Σ x′² over the window's samples. */
function slopesAt(view: View, from: number, to: number, mapping: Mapping, delta: number): number {
  const { curve, values } = view
  let sum = 0
  for (let k = from; k < to; k++) {
    const place = placeOf(view, k, mapping, delta)
    const rise = (cubicAt(curve.values, place + 0.5) - cubicAt(curve.values, place - 0.5)) / curve.stepS
    if (!Number.isNaN(rise + values[k]!)) sum += rise * rise
  }
  return sum
}

function lineAt(view: View, from: number, to: number, mapping: Mapping, delta: number, stride: number): Fit {
  const { values, curve } = view
  let n = 0
  let sx = 0
  let sy = 0
  let xx = 0
  let yy = 0
  let xy = 0
  let zero = Number.NaN
  for (let k = from; k < to; k += stride) {
    const u = cubicAt(curve.values, placeOf(view, k, mapping, delta))
    if (Number.isNaN(zero)) zero = values[k]!
    const v = values[k]! - zero
    if (Number.isNaN(u) || Number.isNaN(v)) continue
    n++
    sx += u
    sy += v
    xx += u * u
    yy += v * v
    xy += u * v
  }
  if (n < FEWEST_PAIRS) return { ...NO_FIT, pairs: n }
  const cxx = xx - (sx * sx) / n
  const cyy = yy - (sy * sy) / n
  const cxy = xy - (sx * sy) / n
  if (!(cxx > 1e-12 * xx) || !(cyy > 1e-12 * yy)) return { ...NO_FIT, pairs: n }
  const b = cxy / cxx
  return {
    r2: (cxy * cxy) / (cxx * cyy),
    pairs: n,
    residual: Math.max(0, cyy - b * cxy) / (n - 3),
    b,
  }
}
