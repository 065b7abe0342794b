import type { Channel } from '../../shared/drive.ts'
import type { Span } from '../../shared/units.ts'
import type { Facts } from '../facts/facts.ts'
import { picked } from '../math/picked.ts'
import { robustLeastSquares } from '../math/robust-least-squares.ts'
import { within } from '../math/spans.ts'
import { extremes, median, quantile } from '../math/stats.ts'
import { heldAt, linearAt } from '../samples/on-one-clock.ts'
import { poweredSpans } from './pedal-power.ts'
import { restBeforePress } from './pedal-rest.ts'

type Ends = readonly [released: number, pressed: number]

export interface EndPoints {
  readonly unit: 'V' | '%' | 'counts'
  readonly track1: Ends
  readonly track2: Ends
  readonly from: 'vehicle-file' | 'learned'
  readonly relation: 'mirrored' | 'same-way' | 'offset' | 'shorted' | 'unknown'
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
  const { timeS, raw1, raw2 } = pairs(one, two, poweredSpans(facts))
  if (timeS.length < 20) return null
  const unit = unitOf(one, raw1)
  const given = facts.vehicle.pedal
  const range1 = quantile(raw1, 0.995) - quantile(raw1, 0.005)
  const scale = unit === 'V' ? 4 : unit === '%' ? 100 : extremes(raw1).high
  const moved = range1 > 0.05 * scale
  const line = moved ? robustLeastSquares([raw1.map(() => 1), raw1], raw2) : null
  const slope = line ? line.coefficients[1]! : Number.NaN
  const intercept = line ? line.coefficients[0]! : Number.NaN
  const equal = median(raw1.map((value, i) => Math.abs(value - raw2[i]!)))
  const fileSaysEqual =
    given?.track_1 !== undefined &&
    given.track_2 !== undefined &&
    Math.abs(given.track_1[0] - given.track_2[0]) + Math.abs(given.track_1[1] - given.track_2[1]) < 0.2
  const relation: EndPoints['relation'] = !line
    ? 'unknown'
    : slope < -0.2
      ? 'mirrored'
      : Math.abs(slope - 1) < 0.1 && equal < 0.01 * scale
        ? unit === '%' || fileSaysEqual
          ? 'same-way'
          : 'shorted'
        : Math.abs(slope - 1) < 0.1
          ? 'offset'
          : slope > 0.2
            ? 'same-way'
            : 'unknown'
  if (unit === 'V' && given?.track_1 && given.track_2)
    return {
      unit,
      track1: given.track_1,
      track2: given.track_2,
      from: 'vehicle-file',
      relation:
        relation === 'shorted' || relation === 'unknown' ? relation : byEnds(given.track_1, given.track_2),
      slope,
      trusted: true,
      fullTravelKnown: true,
      restKnown: true,
      how: 'vehicle file',
    }
  if (unit === '%' && slope > 0.85 && slope < 1.15 && equal < 5)
    return {
      unit,
      track1: [0, 100],
      track2: [0, 100],
      from: 'learned',
      relation: 'unknown',
      slope,
      trusted: true,
      fullTravelKnown: true,
      restKnown: true,
      how: 'logged as percent of travel already; the sensors\u2019 volts cannot be seen',
    }
  const rises = pressesUpward(facts, timeS, raw1)
  if (!line || rises === null)
    return {
      unit,
      track1: [0, 1],
      track2: [0, 1],
      from: 'learned',
      relation,
      slope,
      trusted: false,
      fullTravelKnown: false,
      restKnown: false,
      how: 'the pedal moved too little to learn its end points',
    }
  const edge1 = edgeCluster(raw1, rises, range1)
  const before1 = restBeforePress(raw1, edge1, range1, rises)
  const released1 = before1 ?? edge1
  // track 2's own readings before the press: the line over the drive would let its later drift in
  const along2 = intercept + slope * released1
  const before2 = restBeforePress(raw2, along2, Math.abs(slope) * range1, rises === slope > 0)
  const released2 = before1 !== null && before2 !== null ? before2 : along2
  const position = facts.drive.channels.get('pedal_position')
  const byPosition = position ? fullFromPosition(position, timeS, raw1) : null
  const mirror = slope < 0 && Math.abs(Math.abs(slope) - 1) < 0.2
  const farthest = rises ? quantile(raw1, 0.9995) : quantile(raw1, 0.0005)
  const beyond = (candidate: number): boolean =>
    (rises ? candidate - farthest : farthest - candidate) > -0.03 * range1
  const [pressed1, how, known] =
    byPosition !== null && beyond(byPosition)
      ? ([byPosition, 'learned: pressed end from the logged pedal position', true] as const)
      : mirror && beyond(released2)
        ? ([
            released2,
            'learned: a mirrored pair, its pressed end taken as the other track\u2019s released level',
            true,
          ] as const)
        : ([
            farthest,
            'learned: the pressed end is the farthest reading of the drive, so points of travel are an upper bound',
            false,
          ] as const)
  return {
    unit,
    track1: [released1, pressed1],
    track2: [released2, intercept + slope * pressed1],
    from: 'learned',
    relation,
    slope,
    trusted: true,
    fullTravelKnown: known,
    restKnown: before1 !== null,
    how,
  }
}

/** The relation that two given pairs of end points describe. */
function byEnds(one: Ends, two: Ends): EndPoints['relation'] {
  const slope = (two[1] - two[0]) / (one[1] - one[0])
  return slope < 0 ? 'mirrored' : Math.abs(slope - 1) < 0.1 ? 'offset' : 'same-way'
}

function pairs(
  one: Channel,
  two: Channel,
  powered: readonly Span[],
): { timeS: Float64Array; raw1: Float64Array; raw2: Float64Array } {
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

/** The catalogue calls tracks volts; what cannot be a sensor's volts is percent or counts. */
function unitOf(track: Channel, raw: Float64Array): EndPoints['unit'] {
  const { high } = extremes(raw)
  if (track.unit === '%' || /%|percent|pct/i.test(track.from)) return high > 130 ? 'counts' : '%'
  return high <= 13 ? 'V' : high <= 110 ? '%' : 'counts'
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
  const still = raw.filter((_, i) => kmh !== null && kmh[i]! < 0.5)
  if (still.length < 20) return null
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
  const percent = heldAt(position, timeS, 1).map((value) => (value > 5 && value < 95 ? value : Number.NaN))
  if (!(quantile(percent, 0.98) - quantile(percent, 0.02) > 15)) return null
  const line = robustLeastSquares([percent.map(() => 1), percent], raw)
  return line ? line.coefficients[0]! + 100 * line.coefficients[1]! : null
}
