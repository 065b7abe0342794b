import { type PedalTravel, pedalTravel } from '../../car/pedal-travel.ts'
import type { Facts } from '../../facts/facts.ts'
import { median, quantile } from '../../math/stats.ts'
import { brakeAppliedAt } from './pedal-release.ts'

/** How far what a track reads with the foot surely off it moved within the drive. */
export interface ReleasedDrift {
  /** Points of travel from the lowest to the highest, of the track that moved most. */
  readonly points: number
  readonly plusMinus: number
  /** Points that each track moved, signed, between the same two moments. */
  readonly moved: readonly [number, number]
  /** Moments of the two, the earlier first. */
  readonly fromS: number
  readonly toS: number
  /** Stretches with the foot surely off. */
  readonly rests: number
}

/** The foot is on the brake for so long: it is off the accelerator. */
const REST_S = 0.6
/** A foot that moves inside a stretch, or presses both pedals, is no rest: points. */
const STILL = 1
const BOTH_PRESSED = 10
const LEAST_READINGS = 3
/** So many stretches after each other must agree: one left foot on the brake moves nothing. Common practice, no source. */
const AGREE = 3
const LEAST_RESTS = 2 * AGREE

interface Rest {
  readonly atS: number
  readonly own: readonly [number, number]
}

/**
 * Model: while the brake is pressed the accelerator is released; the median reading of each such stretch is its
 * released reading, three stretches after each other give its level, and the levels must not move.
 * Gives a sentence where it cannot be told. Biased by: play in the pedal (a point or so).
 */
export function releasedDrift(facts: Facts): ReleasedDrift | { readonly why: string } {
  const travel = facts.once(pedalTravel)
  if (!travel?.ends.trusted)
    return { why: 'the accelerator\u2019s tracks cannot be read as shares of their travel' }
  if (!travel.ends.fullTravelKnown) return { why: `shares of travel are an upper bound (${travel.ends.how})` }
  const braked = brakeAppliedAt(facts, travel.timeS)
  if (!braked) return { why: 'no brake signal says when the foot is off the accelerator' }
  const rests = restsOf(travel, braked)
  if (rests.length < LEAST_RESTS)
    return {
      why: `the brake was pressed ${rests.length} times with the accelerator at rest, ${LEAST_RESTS} are needed`,
    }
  const levels = rests.slice(AGREE - 1).map((last, k) => {
    const own = rests.slice(k, k + AGREE)
    const level = (track: 0 | 1): number => agreed(own.map((each) => each.own[track]))
    return { fromS: own[0]!.atS, toS: last.atS, own: [level(0), level(1)] as const }
  })
  const spans = ([0, 1] as const).map((track) => {
    const sorted = levels
      .filter((each) => Number.isFinite(each.own[0] + each.own[1]))
      .sort((a, b) => a.own[track] - b.own[track])
    const [low, high] = [sorted[0], sorted[sorted.length - 1]]
    if (!low || !high) return null
    const [first, second] = low.fromS <= high.fromS ? [low, high] : [high, low]
    return { points: high.own[track] - low.own[track], first, second }
  })
  const [one, two] = spans
  if (!one || !two) return { why: 'the accelerator\u2019s readings with the brake pressed do not agree' }
  const worst = one.points >= two.points ? one : two
  return {
    points: worst.points,
    plusMinus: 1.96 * Math.SQRT2 * travel.noisePoints + 0.2,
    moved: [worst.second.own[0] - worst.first.own[0], worst.second.own[1] - worst.first.own[1]],
    fromS: worst.first.fromS,
    toS: worst.second.toS,
    rests: rests.length,
  }
}

/** The middle of stretches after each other; NaN where they do not agree. */
function agreed(points: readonly number[]): number {
  return Math.max(...points) - Math.min(...points) > 2 * STILL ? Number.NaN : median(points)
}

function restsOf(travel: PedalTravel, braked: Float64Array): Rest[] {
  const { timeS } = travel
  const rests: Rest[] = []
  let from = -1
  for (let i = 0; i <= timeS.length; i++) {
    const on = i < timeS.length && braked[i] === 1
    if (on && from < 0) from = i
    if (on || from < 0) continue
    if (timeS[i - 1]! - timeS[from]! >= REST_S) {
      const rest = restIn(travel, from, i)
      if (rest) rests.push(rest)
    }
    from = -1
  }
  return rests
}

/** What both tracks read in a stretch, its first moments left out; null where one moves. */
function restIn({ timeS, travel1, travel2 }: PedalTravel, from: number, to: number): Rest | null {
  let first = from
  while (first < to && timeS[first]! < timeS[from]! + REST_S / 2) first++
  const own = [travel1, travel2].map((travel) => restLevel(travel.subarray(first, to))) as [number, number]
  return Number.isFinite(own[0] + own[1]) ? { atS: timeS[first]!, own } : null
}

/** The reading of a stretch that stands; NaN where it moves, or is far into the travel. */
function restLevel(points: Float64Array): number {
  const read = points.filter(Number.isFinite)
  if (read.length < LEAST_READINGS) return Number.NaN
  const level = median(read)
  const moves = quantile(read, 0.9) - quantile(read, 0.1) > 2 * STILL
  return moves || Math.abs(level) > BOTH_PRESSED ? Number.NaN : level
}
