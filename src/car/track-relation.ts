import type { Channel } from '../../shared/drive.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { robustLeastSquares } from '../math/robust-least-squares.ts'
import { extremes, median, quantile } from '../math/stats.ts'

export type Ends = readonly [released: number, pressed: number]
export type TrackUnit = 'V' | '%' | 'counts'
export type Relation = 'mirrored' | 'same-way' | 'offset' | 'shorted' | 'unknown'

/** Both tracks at the same moments. */
export interface Readings {
  readonly timeS: Float64Array
  readonly raw1: Float64Array
  readonly raw2: Float64Array
}

/** How the two tracks go together over the drive. */
export interface Tracks {
  readonly unit: TrackUnit
  /** What track 1 went through. */
  readonly range1: number
  /** raw2 ≈ intercept + slope · raw1; null where the pedal did not move enough. */
  readonly line: { readonly intercept: number } | null
  /** Of that line; NaN without one. */
  readonly slope: number
  readonly relation: Relation
  /** Both read the travel itself, in percent. */
  readonly percentAlready: boolean
}

/** The pedal moved: by this share of the sensor's scale; no source. */
const MOVED_SHARE = 0.05
/** A slope beyond it is no noise; within it of 1 the tracks rise alike; no source. */
const SLOPE_SHOWN = 0.2
const SAME_SLOPE = 0.1
/** Two tracks that read the same to this share of the scale are one wire, or written so; no source. */
const EQUAL_SHARE = 0.01
/** End points of the vehicle file that differ by no more in all are meant alike, V; no source. */
const FILE_EQUAL_V = 0.2
/** In percent, travel twice: a slope so near 1 and readings so near each other, points; no source. */
const PERCENT_SLOPE = 0.15
const PERCENT_POINTS = 5
/** A 12 V sensor at most reads so much, one in percent so much with its over-travel; more are counts; no source. */
const MOST_V = 13
const MOST_PERCENT = 110
const MOST_STATED_PERCENT = 130

/** Relation of the tracks by the robust line through their readings, and by what the vehicle file means them to be. */
export function compareTracks(one: Channel, { raw1, raw2 }: Readings, given: Vehicle['pedal']): Tracks {
  const unit = unitOf(one, raw1)
  const range1 = quantile(raw1, 0.995) - quantile(raw1, 0.005)
  const scale = unit === 'V' ? 4 : unit === '%' ? 100 : extremes(raw1).high
  const moved = range1 > MOVED_SHARE * scale
  const fit = moved ? robustLeastSquares([raw1.map(() => 1), raw1], raw2) : null
  const line = fit && { intercept: fit.coefficients[0]! }
  const slope = fit ? fit.coefficients[1]! : Number.NaN
  const apart = median(raw1.map((value, i) => Math.abs(value - raw2[i]!)))
  const relation = line
    ? relationOf(slope, apart < EQUAL_SHARE * scale, unit === '%' || meantEqual(given))
    : 'unknown'
  const alike = slope > 1 - PERCENT_SLOPE && slope < 1 + PERCENT_SLOPE
  return {
    ...{ unit, range1, line, slope, relation },
    percentAlready: unit === '%' && alike && apart < PERCENT_POINTS,
  }
}

/** @param equal they read the same; @param meant and are meant to */
function relationOf(slope: number, equal: boolean, meant: boolean): Relation {
  if (slope < -SLOPE_SHOWN) return 'mirrored'
  if (Math.abs(slope - 1) < SAME_SLOPE) return equal ? (meant ? 'same-way' : 'shorted') : 'offset'
  return slope > SLOPE_SHOWN ? 'same-way' : 'unknown'
}

function meantEqual(given: Vehicle['pedal']): boolean {
  const [one, two] = [given?.track_1, given?.track_2]
  return (
    one !== undefined &&
    two !== undefined &&
    Math.abs(one[0] - two[0]) + Math.abs(one[1] - two[1]) < FILE_EQUAL_V
  )
}

/** The relation that two given pairs of end points describe. */
export function byEnds(one: Ends, two: Ends): Relation {
  const slope = (two[1] - two[0]) / (one[1] - one[0])
  return slope < 0 ? 'mirrored' : Math.abs(slope - 1) < SAME_SLOPE ? 'offset' : 'same-way'
}

/** The catalogue calls tracks volts; what cannot be a sensor's volts is percent or counts. */
function unitOf(track: Channel, raw: Float64Array): TrackUnit {
  const { high } = extremes(raw)
  if (track.unit === '%' || /%|percent|pct/i.test(track.from))
    return high > MOST_STATED_PERCENT ? 'counts' : '%'
  return high <= MOST_V ? 'V' : high <= MOST_PERCENT ? '%' : 'counts'
}
