import { type PedalTravel, pedalTravel } from '../../car/pedal-travel.ts'
import type { Facts } from '../../facts/facts.ts'
import { type HeldPeak, type HeldRun, heldPeak, runsAbove } from '../../math/held-runs.ts'
import { robustLeastSquares } from '../../math/robust-least-squares.ts'
import { slidingSlope } from '../../math/sliding-line.ts'

/** Noise worth smoothing; no source. */
const NOISY_POINTS = 0.5
/** At some 100 readings a second five of them are still no press; no source. */
const FAST_S = 0.011
/** Fewer moving readings tell no order of reading; no source. */
const FEWEST_ROWS = 30

/** How the tracks differ over the drive, and how large the difference left to judge is at each sample. */
export interface PedalMismatch {
  /** |track 1 − track 2| in points of travel, skew taken out, floored at 0 by what skew could explain. */
  readonly points: Float64Array
  /** Skew: track 2 was read so much later, s; null where the pedal moved too little. */
  readonly skewS: number | null
  readonly skewPlusMinusS: number | null
  readonly gainRatio: number | null
  readonly offsetPoints: number | null
  readonly hysteresisPoints: number | null
  readonly held: HeldPeak | null
  readonly heldPlusMinus: number
  readonly runs: readonly HeldRun[]
  readonly limitPoints: number
  readonly limitS: number
}

/** A skew of single samples that is never taken for mismatch, s: a box reads one track after the other. */
const READ_ORDER_S = 0.02
/** A pedal takes at least so long from end to end (bounds its speed in slow logs), s. Common practice, no source. */
const FASTEST_STROKE_S = 0.1

/**
 * Model: track 1 − track 2 = offset + gain error · travel − skew · speed of travel + hysteresis · direction + noise,
 * fitted robustly. Only the skew's part is taken out of the difference to judge: offset, gain and hysteresis are
 * faults of the pedal, skew is one of the log. What is left of skew (its error, and the order in which a box reads
 * its inputs) is allowed for by so much of the movement as both tracks made; a jump of one track alone gets none.
 */
export function pedalMismatch(facts: Facts): PedalMismatch | null {
  const travel = facts.once(pedalTravel)
  if (!travel?.ends.trusted) return null
  const limitPoints = facts.vehicle.pedal?.mismatch_percent ?? facts.limits.pedalMismatch.stop ?? Number.NaN
  const limitS = (facts.vehicle.pedal?.mismatch_ms ?? facts.limits.pedalMismatchMs.stop ?? Number.NaN) / 1000
  const { timeS, travel1, travel2 } = travel
  const n = timeS.length
  const half = Math.max(1.6 * travel.sampleS, 0.03)
  const mean = travel1.map((value, i) => (value + travel2[i]!) / 2)
  const speed = slidingSlope(timeS, mean, half)
  const raw = travel1.map((value, i) => value - travel2[i]!)
  const shape = fitShape(mean, speed, raw, travel)
  const skewS = shape?.skewS ?? 0
  const unsure =
    (shape ? shape.skewPlusMinusS : 0) +
    (travel.sameMoments
      ? Math.min(travel.sampleS / 4, READ_ORDER_S)
      : Math.min(travel.sampleS / 2, 2 * READ_ORDER_S))
  const points = new Float64Array(n)
  for (let i = 0; i < n; i++) {
    const moved = Math.min(around(travel1, i), around(travel2, i))
    const window = timeS[Math.min(n - 1, i + 1)]! - timeS[Math.max(0, i - 1)]!
    const fastest = moved / Math.min(Math.max(window, 1e-3), FASTEST_STROKE_S)
    const corrected = Math.abs(raw[i]! + skewS * (speed[i] || 0))
    points[i] = Math.max(0, Math.min(corrected, Math.abs(raw[i]!)) - unsure * fastest)
  }
  for (
    let i = 1;
    i < n;
    i++ // what was held across a gap in the log is not known
  )
    if (timeS[i]! - timeS[i - 1]! > Math.max(3.5 * travel.sampleS, 0.25)) points[i] = Number.NaN
  const smooth = travel.noisePoints > NOISY_POINTS && travel.sampleS <= FAST_S ? medianOfFive(points) : points
  return {
    points: smooth,
    skewS: shape?.skewS ?? null,
    skewPlusMinusS: shape?.skewPlusMinusS ?? null,
    gainRatio: shape?.gainRatio ?? null,
    offsetPoints: shape?.offset ?? null,
    hysteresisPoints: shape?.hysteresis ?? null,
    held: heldPeak(timeS, smooth, limitS),
    heldPlusMinus: 1.96 * Math.SQRT2 * travel.noisePoints + (travel.ends.from === 'learned' ? 0.3 : 0),
    runs: runsAbove(timeS, smooth, limitPoints),
    limitPoints,
    limitS,
  }
}

/** Range of a track over the sample and its neighbours. */
function around(values: Float64Array, i: number): number {
  const before = values[Math.max(0, i - 1)]!
  const after = values[Math.min(values.length - 1, i + 1)]!
  const here = values[i]!
  return Math.max(before, here, after) - Math.min(before, here, after)
}

interface Shape {
  readonly skewS: number
  readonly skewPlusMinusS: number
  readonly gainRatio: number
  readonly offset: number
  readonly hysteresis: number
}

const ROWS = 8000

function fitShape(
  mean: Float64Array,
  speed: Float64Array,
  raw: Float64Array,
  travel: PedalTravel,
): Shape | null {
  const still = Math.max(5, (3 * travel.noisePoints) / Math.max(travel.sampleS, 0.03))
  const moving: number[] = []
  const resting: number[] = []
  for (let i = 0; i < mean.length; i++) {
    if (!Number.isFinite(raw[i]! + speed[i]!)) continue
    if (Math.abs(speed[i]!) > still) moving.push(i)
    else resting.push(i)
  }
  if (moving.length < FEWEST_ROWS) return null
  const thin = (list: number[]): number[] => {
    const stride = Math.max(1, Math.ceil(list.length / (ROWS / 2)))
    return list.filter((_, k) => k % stride === 0)
  }
  const rows = [...thin(moving), ...thin(resting)]
  const column = (of: (i: number) => number): Float64Array => Float64Array.from(rows, of)
  const fit = robustLeastSquares(
    [
      column(() => 1),
      column((i) => mean[i]! / 100),
      column((i) => speed[i]!),
      column((i) => (Math.abs(speed[i]!) > still ? Math.sign(speed[i]!) : 0)),
    ],
    column((i) => raw[i]!),
  )
  if (!fit) return null
  const [offset, gain, perSpeed, direction] = fit.coefficients as unknown as [number, number, number, number]
  return {
    skewS: -perSpeed,
    skewPlusMinusS: 1.96 * fit.standardErrors[2]! * 2,
    gainRatio: 1 - gain / 100,
    offset,
    hysteresis: Math.abs(2 * direction),
  }
}

/** Keeps edges and durations of pulses of three samples and more; takes single-sample noise away. */
function medianOfFive(values: Float64Array): Float64Array {
  return values.map((value, i) => {
    if (i < 2 || i >= values.length - 2) return value
    const five = [values[i - 2]!, values[i - 1]!, value, values[i + 1]!, values[i + 2]!].sort((a, b) => a - b)
    return five[2]!
  })
}
