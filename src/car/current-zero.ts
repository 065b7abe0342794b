import type { Span } from '../../shared/units.ts'
import { mean, quantileSorted, robustSpread, sortedFinite, standardDeviation } from '../math/stats.ts'
import { indexAt } from '../samples/on-one-clock.ts'

/** Fewer readings tell nothing of a stretch's zero; no source. */
const FEWEST_IN_BLOCK = 5

/** The sensor's zero over one stretch without current. */
export interface ZeroPoint {
  readonly atS: number
  readonly span_s: Span
  readonly amperes: number
  /** 95 %, of this stretch's mean. */
  readonly plusMinusA: number
}

export interface CurrentZero {
  readonly points: readonly ZeroPoint[]
  /** Mean over the drive of what is removed, A; 0 where nothing was learned. */
  readonly zeroA: number
  /** 95 % half width at any moment of the drive; null where nothing was learned. */
  readonly plusMinusA: number | null
  readonly noiseA: number
  /** Zero at a moment: a line between stretches, constant outside them. */
  at(timeS: number): number
}

/** Current still falls, and clocks may differ, this long after contactors are logged open and before they close. */
const SETTLE_S = 0.5
/** Long rests are cut into blocks so that a drift inside them shows. */
const BLOCK_S = 30
const MOST_BLOCKS = 20
/** More than any sensor's zero: then a current does flow, whatever the contactors say. Common practice, no source. */
const FLOWS_A = 20
const RESTLESS_A = 5
/** What a Hall sensor may drift over a drive when only one moment shows its zero. Common practice, no source. */
const UNSEEN_DRIFT_A = 0.3

/**
 * Model: logged = true · (1 + gain) + zero(t); with contactors open true = 0, so each such stretch shows the zero.
 * Each stretch: mean of the middle 90 % of samples; its error from the samples' spread, four neighbours counted as
 * one (sensor filter), and from rounding: the mean of rounded samples is off by up to half a step · exp(−2π²σ²/step²),
 * nothing once the noise σ spans a step (first harmonic of the rounding error, Widrow, from memory). Between
 * stretches the zero may leave the straight line by half the step between them.
 * @param spans stretches in which no current can flow, ascending
 * @param durationS the drive's length, for the mean
 * @param step of the readings, A; 0 where unknown
 */
export function learnZero(
  timeS: Float64Array,
  values: Float64Array,
  spans: readonly Span[],
  durationS: number,
  step = 0,
): CurrentZero {
  const points: ZeroPoint[] = []
  let noiseA = 0
  for (const [from, to] of spans) {
    const first = from > 0 ? from + SETTLE_S : from
    const last = to < durationS ? to - SETTLE_S : to
    const blocks = Math.min(MOST_BLOCKS, Math.max(1, Math.round((last - first) / BLOCK_S)))
    for (let block = 0; block < blocks; block++) {
      const start = first + ((last - first) * block) / blocks
      const end = first + ((last - first) * (block + 1)) / blocks
      const inside = sortedFinite(values.subarray(indexAt(timeS, start) + 1, indexAt(timeS, end) + 1))
      if (inside.length < FEWEST_IN_BLOCK) continue
      const low = quantileSorted(inside, 0.05)
      const high = quantileSorted(inside, 0.95)
      const spread = Math.max(robustSpread(inside), (high - low) / 4)
      const amperes = mean(inside.filter((value) => value >= low && value <= high))
      if (Math.abs(amperes) > FLOWS_A || spread > RESTLESS_A) continue
      noiseA = Math.max(noiseA, spread)
      points.push({
        atS: (start + end) / 2,
        span_s: [start, end],
        amperes,
        plusMinusA: Math.hypot(1.96 * spread * Math.sqrt(4 / inside.length), rounding(inside, step)),
      })
    }
  }
  const at = (moment: number): number => zeroBetween(points, moment)
  if (points.length === 0) return { points, zeroA: 0, plusMinusA: null, noiseA, at }
  let steps = 0
  for (let i = 1; i < points.length; i++)
    steps = Math.max(steps, Math.abs(points[i]!.amperes - points[i - 1]!.amperes))
  const oneMoment = points[points.length - 1]!.atS - points[0]!.atS < 0.5 * durationS
  const fit = Math.max(...points.map((point) => point.plusMinusA))
  const grid = Array.from({ length: 101 }, (_, i) => at((durationS * i) / 100))
  return {
    points,
    zeroA: mean(grid),
    plusMinusA: Math.hypot(fit, steps / 2, oneMoment ? UNSEEN_DRIFT_A : 0),
    noiseA,
    at,
  }
}

function rounding(samples: Float64Array, step: number): number {
  if (!(step > 0)) return 0
  const variance = Math.max(0, standardDeviation(samples) ** 2 - step ** 2 / 12)
  return (step / 2) * Math.exp((-2 * Math.PI ** 2 * variance) / step ** 2)
}

function zeroBetween(points: readonly ZeroPoint[], moment: number): number {
  const next = points.findIndex((point) => point.atS >= moment)
  if (points.length === 0) return 0
  if (next === 0) return points[0]!.amperes
  if (next < 0) return points[points.length - 1]!.amperes
  const a = points[next - 1]!
  const b = points[next]!
  return a.amperes + ((b.amperes - a.amperes) * (moment - a.atS)) / (b.atS - a.atS)
}
