import type { Facts } from '../facts/facts.ts'
import { FEWEST_READINGS } from '../math/fewest.ts'
import { jitter } from '../math/jitter.ts'
import { picked } from '../math/picked.ts'
import { selectInPlace } from '../math/select.ts'
import { freshSamples } from '../samples/fresh-samples.ts'
import { indexAt, linearAt, samplePeriod } from '../samples/on-one-clock.ts'
import { type EndPoints, endPoints } from './pedal-ends.ts'
import { poweredSpans } from './pedal-power.ts'

/** A pedal that rests farther from 0 was never released; no source. */
const MOST_REST_PERCENT = 5

/** Both tracks as percent of travel, at the moments of track 1. */
export interface PedalTravel {
  readonly ends: EndPoints
  /** s; track 1's own samples while the pedal was powered. */
  readonly timeS: Float64Array
  /** As logged (V, % or counts). */
  readonly raw1: Float64Array
  readonly raw2: Float64Array
  /** Percent of travel, not clipped. */
  readonly travel1: Float64Array
  readonly travel2: Float64Array
  /** Spread of one track's noise in points of travel; of the difference it is √2 times. */
  readonly noisePoints: number
  /** Typical time between samples at which both tracks are known, s. */
  readonly sampleS: number
  /** True where both tracks came in the same rows or frames. */
  readonly sameMoments: boolean
  readonly channels: readonly string[]
}

/**
 * Model: travel = (reading − released) / (pressed − released) · 100 for each track, by the end points of the vehicle
 * file or as learned (`endPoints` says how). Track 2 is read between its samples by a straight line where its moments
 * differ from track 1's. Moments without the pedal's supply (key off) are left out.
 * Gives null without two tracks.
 */
export function pedalTravel(facts: Facts): PedalTravel | null {
  const one = facts.drive.channels.get('pedal_track_1')
  const two = facts.drive.channels.get('pedal_track_2')
  if (!one || !two) return null
  const ends = facts.once(endPoints)
  if (!ends) return null
  const first = freshSamples(one)
  const second = freshSamples(two)
  const powered = poweredSpans(facts)
  const sameMoments = first.timeS === second.timeS || sameClock(first.timeS, second.timeS)
  const period1 = samplePeriod(first.timeS)
  const period2 = samplePeriod(second.timeS)
  const maxGapS = 3 * Math.max(period1, period2)
  const secondAt = sameMoments ? second.values : linearAt({ ...two, ...second }, first.timeS, maxGapS)
  const kept: number[] = []
  let span = 0
  for (let i = 0; i < first.timeS.length; i++) {
    const at = first.timeS[i]!
    while (span < powered.length && powered[span]![1] <= at) span++
    if (span < powered.length && powered[span]![0] <= at) kept.push(i)
  }
  const pick = (values: Float64Array): Float64Array => picked(values, kept)
  const raw1 = pick(first.values)
  const raw2 = pick(secondAt)
  const percent = (raw: Float64Array, [released, pressed]: readonly [number, number]): Float64Array =>
    raw.map((value) => ((value - released) / (pressed - released)) * 100)
  const travel1 = percent(raw1, ends.track1)
  const travel2 = percent(raw2, ends.track2)
  return {
    ends,
    timeS: pick(first.timeS),
    raw1,
    raw2,
    travel1,
    travel2,
    noisePoints: Math.max(jitter(travel1), jitter(travel2)),
    sampleS: Math.max(period1, period2),
    sameMoments,
    channels: ['pedal_track_1', 'pedal_track_2'],
  }
}

function sameClock(a: Float64Array, b: Float64Array): boolean {
  if (a.length !== b.length) return false
  for (let i = 0; i < a.length; i++) if (a[i] !== b[i]) return false
  return true
}

/** Where the accelerator stands, for whoever needs one figure: percent of travel, on its own clock. */
export interface Accelerator {
  readonly timeS: Float64Array
  readonly percent: Float64Array
  /** What it reads when nobody touches it, percent. */
  readonly restPercent: number
  readonly noisePercent: number
  readonly channels: readonly string[]
}

/**
 * The accelerator as the controller's own `pedal_position` where it is logged at least half as often as the tracks,
 * else the mean of both tracks (unknown where they are over 10 points apart). Its rest level is the lower edge of what
 * it reads over the drive (10 % quantile), which a car that stands or brakes for a tenth of the time fixes; kept within
 * ±5 points of zero so that a foot that never lifts is not taken for rest.
 */
export function accelerator(facts: Facts): Accelerator | null {
  const both = facts.once(pedalTravel)
  const position = facts.drive.channels.get('pedal_position')
  const tracks = both?.ends.trusted ? both : null
  if (position && (!tracks || position.timeS.length >= tracks.timeS.length / 2)) {
    const { timeS, values } = freshSamples(position)
    if (values.length >= FEWEST_READINGS) return atRest(timeS, values, ['pedal_position'])
  }
  if (!tracks) return null
  const percent = tracks.travel1.map((value, i) => {
    const other = tracks.travel2[i]!
    if (!Number.isFinite(other)) return value
    return Math.abs(value - other) > APART_POINTS ? Number.NaN : (value + other) / 2
  })
  return atRest(tracks.timeS, percent, tracks.channels)
}

/** Tracks so far apart tell nothing about the foot, points. */
const APART_POINTS = 10

function atRest(timeS: Float64Array, percent: Float64Array, channels: readonly string[]): Accelerator {
  const read = percent.filter(Number.isFinite)
  const low = read.length > 0 ? selectInPlace(read, Math.floor(read.length * 0.1)) : 0
  return {
    timeS,
    percent,
    restPercent: Math.abs(low) <= MOST_REST_PERCENT ? low : 0,
    noisePercent: jitter(percent),
    channels,
  }
}

/** Accelerator percent at each of the moments, by sample and hold; NaN where it is older than `maxAgeS`. */
export function acceleratorAt(pedal: Accelerator, atS: ArrayLike<number>, maxAgeS = 2): Float64Array {
  const out = new Float64Array(atS.length).fill(Number.NaN)
  let at = atS.length > 0 ? indexAt(pedal.timeS, atS[0]!) : -1
  for (let i = 0; i < atS.length; i++) {
    while (at + 1 < pedal.timeS.length && pedal.timeS[at + 1]! <= atS[i]!) at++
    if (at >= 0 && atS[i]! - pedal.timeS[at]! <= maxAgeS) out[i] = pedal.percent[at]!
  }
  return out
}
