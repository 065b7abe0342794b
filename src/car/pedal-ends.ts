import type { Channel } from '../../shared/drive.ts'
import type { Span } from '../../shared/units.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import type { Facts } from '../facts/facts.ts'
import { FEWEST_READINGS } from '../math/fewest.ts'
import { picked } from '../math/picked.ts'
import { robustLeastSquares } from '../math/robust-least-squares.ts'
import { within } from '../math/spans.ts'
import { extremes, median, quantile } from '../math/stats.ts'
import { heldAt, linearAt } from '../samples/on-one-clock.ts'
import { poweredSpans } from './pedal-power.ts'
import { restBeforePress } from './pedal-rest.ts'
import {
  byEnds,
  compareTracks,
  type Ends,
  type Readings,
  type Relation,
  type Tracks,
  type TrackUnit,
} from './track-relation.ts'

export interface EndPoints {
  readonly unit: TrackUnit
  readonly track1: Ends
  readonly track2: Ends
  readonly from: 'vehicle-file' | 'learned'
  readonly relation: Relation
  /** raw2 ≈ offset + slope · raw1 over the drive; NaN where the pedal did not move enough. */
  readonly slope: number
  /** False where the pedal moved too little to know its ends: nothing may be judged in points of travel. */
  readonly trusted: boolean
  /** False where the pressed end is only the farthest reading seen: points of travel are then an upper bound. */
  readonly fullTravelKnown: boolean
  /** Is the released end the vehicle file's, or read before the first press? Else it is only the drive's edge. */
  readonly restKnown: boolean
  /** How the end points were come by, in words. */
  readonly how: string
}

const SAMPLES = 6000
/** No wheel sensor's noise; no source. */
const STANDS_KMH = 0.5
/** Between these the logged position is a straight line of track 1, and at least so much of it must be seen; no source. */
const LOW_PERCENT = 5
const HIGH_PERCENT = 95
const LEAST_SPAN = 15
/** Readings beyond this far from the farthest one, as a share of the range, cannot be the pressed end; no source. */
const SHORT_OF_FARTHEST = 0.03
/** A mirrored pair whose slope lies so near −1 has both ends in common; no source. */
const MIRROR_SLOPE = 0.2

/**
 * End points of both tracks. Given in volts by the vehicle file, else learned:
 *
 * - released: what it read before the first press (`restBeforePress`: a reading that drifts later teaches nothing); a
 *   log that begins pressed gives the middle of the cluster at the edge where the pedal rests (which edge: the one away
 *   from torque, or where the car stands) and `restKnown` false;
 * - pressed: where `pedal_position` would be 100 % by a straight line; else, for a mirrored pair of equal slope, the
 *   other track's released level; else the farthest reading, which is a bound only;
 * - track 2 by the robust straight line raw2 = a + b · raw1, so that a fault in a small part of the drive does not
 *   enter. Blind, when learned: an offset or gain error that lasts the whole drive.
 *
 * Gives null where a track has fewer than 20 readings.
 */
export function endPoints(facts: Facts): EndPoints | null {
  const one = facts.drive.channels.get('pedal_track_1')
  const two = facts.drive.channels.get('pedal_track_2')
  if (!one || !two) return null
  const readings = pairs(one, two, poweredSpans(facts))
  if (readings.timeS.length < FEWEST_READINGS) return null
  const tracks = compareTracks(one, readings, facts.vehicle.pedal)
  return (
    fromFile(tracks, facts.vehicle.pedal) ??
    fromPercent(tracks) ??
    learned(facts, readings, tracks) ??
    tooLittle(tracks)
  )
}

const KNOWN = { trusted: true, fullTravelKnown: true, restKnown: true } as const

/** Volts are as the vehicle file says. */
function fromFile({ unit, slope, relation }: Tracks, given: Vehicle['pedal']): EndPoints | null {
  if (unit !== 'V' || !given?.track_1 || !given.track_2) return null
  return {
    ...KNOWN,
    ...{ unit, slope, from: 'vehicle-file', how: 'vehicle file' },
    ...{ track1: given.track_1, track2: given.track_2 },
    relation:
      relation === 'shorted' || relation === 'unknown' ? relation : byEnds(given.track_1, given.track_2),
  }
}

/** Two tracks that read alike in percent are travel already. */
function fromPercent({ unit, slope, percentAlready }: Tracks): EndPoints | null {
  if (!percentAlready) return null
  return {
    ...KNOWN,
    ...{ unit, slope, from: 'learned', relation: 'unknown' },
    ...{ track1: [0, 100], track2: [0, 100] },
    how: 'logged as percent of travel already; the sensors\u2019 volts cannot be seen',
  }
}

/** The pedal moved too little to know its ends: nothing may be judged in points of travel. */
function tooLittle({ unit, slope, relation }: Tracks): EndPoints {
  return {
    ...{ unit, slope, relation, from: 'learned' },
    ...{ track1: [0, 1], track2: [0, 1] },
    ...{ trusted: false, fullTravelKnown: false, restKnown: false },
    how: 'the pedal moved too little to learn its end points',
  }
}

/** Both ends by what the drive shows; null where the pedal moved too little, or which way it moves cannot be told. */
function learned(facts: Facts, { timeS, raw1, raw2 }: Readings, tracks: Tracks): EndPoints | null {
  const { unit, slope, relation, line, range1 } = tracks
  const rises = line ? pressesUpward(facts, timeS, raw1) : null
  if (!line || rises === null) return null
  const track2At = (raw: number): number => line.intercept + slope * raw
  const edge1 = edgeCluster(raw1, rises, range1)
  const before1 = restBeforePress(raw1, edge1, range1, rises)
  const released1 = before1 ?? edge1
  // track 2's own readings before the press: the line over the drive would let its later drift in
  const along2 = track2At(released1)
  const before2 = restBeforePress(raw2, along2, Math.abs(slope) * range1, rises === slope > 0)
  const released2 = before1 !== null && before2 !== null ? before2 : along2
  const position = facts.drive.channels.get('pedal_position')
  const farthest = rises ? quantile(raw1, 0.9995) : quantile(raw1, 0.0005)
  const [pressed1, how, known] = pressedEnd({
    ...{ farthest, rises, range1, released2 },
    byPosition: position ? fullFromPosition(position, timeS, raw1) : null,
    mirror: slope < 0 && Math.abs(Math.abs(slope) - 1) < MIRROR_SLOPE,
  })
  return {
    ...{ unit, slope, relation, from: 'learned', how },
    track1: [released1, pressed1],
    track2: [released2, track2At(pressed1)],
    ...{ trusted: true, fullTravelKnown: known, restKnown: before1 !== null },
  }
}

/** The best knowledge of track 1's pressed end: where the logged position says, the mirrored track, the farthest reading. */
function pressedEnd(by: {
  readonly farthest: number
  readonly rises: boolean
  readonly range1: number
  readonly released2: number
  readonly byPosition: number | null
  readonly mirror: boolean
}): readonly [raw1: number, how: string, known: boolean] {
  const beyond = (candidate: number): boolean =>
    (by.rises ? candidate - by.farthest : by.farthest - candidate) > -SHORT_OF_FARTHEST * by.range1
  if (by.byPosition !== null && beyond(by.byPosition))
    return [by.byPosition, 'learned: pressed end from the logged pedal position', true]
  if (by.mirror && beyond(by.released2))
    return [
      by.released2,
      'learned: a mirrored pair, its pressed end taken as the other track\u2019s released level',
      true,
    ]
  return [
    by.farthest,
    'learned: the pressed end is the farthest reading of the drive, so shares of travel are an upper bound',
    false,
  ]
}

/** Both tracks at the moments of track 1, while the sensors are supplied. */
function pairs(one: Channel, two: Channel, powered: readonly Span[]): Readings {
  const stride = Math.max(1, Math.floor(one.timeS.length / SAMPLES))
  const at: number[] = []
  const first: number[] = []
  for (let i = 0; i < one.timeS.length; i += stride) {
    if (!Number.isFinite(one.values[i]) || !within(powered, one.timeS[i]!)) continue
    at.push(one.timeS[i]!)
    first.push(one.values[i]!)
  }
  const second = linearAt(two, at)
  const keep = at.map((_, i) => i).filter((i) => Number.isFinite(second[i]))
  return {
    timeS: picked(at, keep),
    raw1: picked(first, keep),
    raw2: picked(second, keep),
  }
}

/** Does track 1 rise as the pedal is pressed? By what follows the pedal; else by where it rests while the car stands. */
function pressesUpward(facts: Facts, timeS: Float64Array, raw: Float64Array): boolean | null {
  const centre = median(raw)
  for (const id of ['pedal_position', 'torque_request', 'torque', 'pack_current'] as const) {
    const follower = facts.drive.channels.get(id)
    if (!follower) continue
    const values = heldAt(follower, timeS, 1)
    const middle = median(values)
    let agree = 0
    let size = 0
    for (let i = 0; i < timeS.length; i++) {
      const product = (values[i]! - middle) * (raw[i]! - centre)
      if (!Number.isFinite(product)) continue
      agree += product
      size += Math.abs(product)
    }
    if (size > 0 && Math.abs(agree) > 0.3 * size) return agree > 0
  }
  const speed = facts.drive.channels.get('speed')
  const kmh = speed ? heldAt(speed, timeS, 2) : null
  const still = raw.filter((_, i) => kmh !== null && kmh[i]! < STANDS_KMH)
  if (still.length < FEWEST_READINGS) return null
  const { low, high } = extremes(raw)
  return median(still) - low < high - median(still)
}

/** Middle of the readings at the edge where the pedal rests. */
function edgeCluster(raw: Float64Array, low: boolean, range: number): number {
  const edge = quantile(raw, low ? 0.03 : 0.97)
  return median(raw.filter((value) => Math.abs(value - edge) < 0.03 * range))
}

/** raw1 where the logged position would read 100 %, by a robust line between 5 and 95 %; null under 15 points seen. */
function fullFromPosition(position: Channel, timeS: Float64Array, raw: Float64Array): number | null {
  const percent = heldAt(position, timeS, 1).map((value) =>
    value > LOW_PERCENT && value < HIGH_PERCENT ? value : Number.NaN,
  )
  if (!(quantile(percent, 0.98) - quantile(percent, 0.02) > LEAST_SPAN)) return null
  const line = robustLeastSquares([percent.map(() => 1), percent], raw)
  return line ? line.coefficients[0]! + 100 * line.coefficients[1]! : null
}
