import type { Channel } from '../../shared/drive.ts'
import { correlation } from '../math/correlation.ts'
import { lagCorrelation } from '../math/lag-correlation.ts'
import type { Candidate } from './candidates.ts'
import { longestGap, onGrid, usualGap } from './grid.ts'

/** drive time = own time + offsetS */
export interface LogClock {
  readonly offsetS: number
  /** Correlation of the pair that tells best. */
  readonly r: number
}

/** Channels that move enough to set a clock by, best first. */
const LIVELY = [
  'motor_speed',
  'speed',
  'torque',
  'pack_current',
  'inverter_dc_current',
  'pedal_track_1',
  'pedal_position',
  'pack_voltage',
  'brake_pressure',
]
const STEP_S = 0.2
const CANDIDATES = 14
const CHANNELS = 5
/** A pair below this does not vote. Round figure. */
const LEAST_R = 0.75

/**
 * How far apart are the clocks of a capture and of a drive, when nobody knows yet which number is which channel? Each
 * lively number is correlated with each lively channel at every lag; lags vote with r².
 * Blind: drives without motion. Drift is not looked for: 50 ppm are 30 ms in ten minutes.
 */
export function clockOfLog(candidates: readonly Candidate[], channels: readonly Channel[]): LogClock | null {
  const refs = LIVELY.flatMap((id) =>
    channels.filter((each) => each.id === id && usualGap(each.timeS) <= 0.6),
  ).slice(0, CHANNELS)
  const movers = [...candidates]
    .filter((each) => usualGap(each.timeS) <= 0.6 && each.distinct > 30)
    .sort((a, b) => liveliness(b) - liveliness(a))
    .slice(0, CANDIDATES)
  if (refs.length === 0 || movers.length === 0) return null
  const ownFrom = Math.min(...movers.map((each) => each.timeS[0]!))
  const refFrom = Math.min(...refs.map((each) => each.timeS[0]!))
  const ys = refs.map((each) => slope(each.timeS, each.values, refFrom))
  const votes = new Map<number, number>()
  let best = 0
  for (const mover of movers) {
    const x = slope(mover.timeS, mover.raw, ownFrom)
    for (const y of ys) {
      const { zero, r } = lagCorrelation(y, x, Math.min(150, 0.5 * Math.min(x.length, y.length)))
      let at = -1
      for (let k = 0; k < r.length; k++) if (at < 0 || Math.abs(r[k]!) > Math.abs(r[at]!)) at = k
      if (at < 0 || Math.abs(r[at]!) < LEAST_R) continue
      best = Math.max(best, Math.abs(r[at]!))
      votes.set(at - zero, (votes.get(at - zero) ?? 0) + r[at]! ** 2)
    }
  }
  let lag = Number.NaN
  let most = 0
  for (const at of votes.keys()) {
    const sum = (votes.get(at - 1) ?? 0) + votes.get(at)! + (votes.get(at + 1) ?? 0)
    if (sum > most) {
      most = sum
      lag = at
    }
  }
  if (!(most > 0)) return null
  const rough = refFrom - ownFrom + lag * STEP_S
  return { offsetS: refine(movers, refs, rough), r: best }
}

/** How much a number moves from sample to sample, against its range: busy at first, not noise. */
function liveliness({ raw }: Candidate): number {
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  let moved = 0
  const step = Math.max(1, Math.floor(raw.length / 2000))
  for (let i = step; i < raw.length; i += step) {
    low = Math.min(low, raw[i]!)
    high = Math.max(high, raw[i]!)
    moved += Math.abs(raw[i]! - raw[i - step]!)
  }
  const turns = high > low ? moved / (high - low) : 0
  // a handful of rises and falls a minute; noise has hundreds, a temperature one
  return turns < 3 ? turns / 100 : 1 / (1 + Math.abs(Math.log(turns / 20)))
}

/** Movement over one second, on a grid; no trend. */
function slope(timeS: ArrayLike<number>, values: ArrayLike<number>, fromS: number): Float64Array {
  const toS = timeS[timeS.length - 1]!
  const points = Math.min(100_000, Math.max(8, Math.floor((toS - fromS) / STEP_S) + 1))
  const grid = onGrid(timeS, values, fromS, fromS + (points - 1) * STEP_S, points, longestGap(timeS))
  const out = new Float64Array(points).fill(Number.NaN)
  for (let i = 2; i + 3 < points; i++) out[i] = grid[i + 3]! - grid[i - 2]!
  return out
}

/** The offset to a fiftieth of a second: where the best pairs agree most closely. */
function refine(movers: readonly Candidate[], refs: readonly Channel[], rough: number): number {
  const score = (offset: number, mover: Candidate, ref: Channel): number => {
    const shifted = mover.timeS.map((t) => t + offset)
    const fromS = Math.max(shifted[0]!, ref.timeS[0]!)
    const toS = Math.min(shifted[shifted.length - 1]!, ref.timeS[ref.timeS.length - 1]!)
    if (!(toS > fromS)) return 0
    const x = onGrid(shifted, mover.raw, fromS, toS, 2000, longestGap(shifted))
    const y = onGrid(ref.timeS, ref.values, fromS, toS, 2000, longestGap(ref.timeS))
    const { r } = correlation(x, y)
    return Number.isFinite(r) ? r * r : 0
  }
  const pairs = movers
    .flatMap((mover) => refs.map((ref) => ({ mover, ref, r2: score(rough, mover, ref) })))
    .sort((a, b) => b.r2 - a.r2)
    .slice(0, 6)
  // the pair that agrees best at any of the lags is one thing twice; others may be each other's cause
  let best = rough
  let most = -1
  for (const { mover, ref } of pairs)
    for (let step = -20; step <= 20; step++) {
      const r2 = score(rough + 0.02 * step, mover, ref)
      if (r2 <= most) continue
      most = r2
      best = rough + 0.02 * step
    }
  return best
}
