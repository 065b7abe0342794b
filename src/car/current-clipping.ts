import type { Span } from '../../shared/units.ts'
import { mean, median, quantile } from '../math/stats.ts'

/** A range ends at no less; no source. */
const CLIPS_FROM_A = 5
/** Fewer ratios give no usual one; no source. */
const FEWEST_RATIOS = 10
/** Power goes on rising by this share while the current stands; no source. */
const GOES_ON_SHARE = 0.02

export interface Clipping {
  /** Stretches at the end of the sensor's range, ascending. */
  readonly spans: readonly Span[]
  /** 1 where the sample is at the upper end of the range, −1 at the lower, 0 elsewhere. */
  readonly side: Int8Array
  /** Ends of the range that were reached, A; null where not. */
  readonly highA: number | null
  readonly lowA: number | null
  /** By how much the witness expects more than each end, mean share over its flat tops; null without one. */
  readonly highExcess: number | null
  readonly lowExcess: number | null
}

/** Shortest flat top, in samples, that counts. */
const RUN = 3
/** Samples at the very top that make a range's end believable. */
const LEAST = 8

/**
 * Finds flat tops: the current stops at one value although it moves everywhere else.
 * A value is a range's end when (1) it is the extreme of the log, (2) at least 8 samples stand exactly there, most of
 * them in runs of 3 or more, (3) they outnumber the samples in the band just below, an eighth of the range deep, and
 * (4) either samples elsewhere jitter by more than a step, so that standing still proves it, or the rest of the car
 * goes on rising: during the flat tops the witness, scaled to this current below them, expects over 2 % more.
 * @param witness a current predicted from mechanical power at the same samples, A; null without one
 * @param restless single samples of a constant current differ by more than a step
 * Blind to a sensor that saturates softly, to a range reached for under 8 samples, and, on a quiet coarse log without
 * torque and speed, altogether.
 */
export function findClipping(
  timeS: Float64Array,
  values: Float64Array,
  witness: Float64Array | null,
  restless: boolean,
): Clipping {
  const side = new Int8Array(values.length)
  const high = markTop(values, witness, restless, side, 1)
  const low = markTop(values, witness, restless, side, -1)
  const spans: Span[] = []
  for (let i = 0; i < values.length; i++) {
    if (side[i] === 0) continue
    let end = i
    while (end + 1 < values.length && side[end + 1] === side[i]) end++
    spans.push([timeS[i]!, timeS[Math.min(values.length - 1, end + 1)]!])
    i = end
  }
  return {
    spans,
    side,
    highA: high?.endA ?? null,
    lowA: low?.endA ?? null,
    highExcess: high?.excess ?? null,
    lowExcess: low?.excess ?? null,
  }
}

function markTop(
  values: Float64Array,
  witness: Float64Array | null,
  restless: boolean,
  side: Int8Array,
  way: 1 | -1,
): { endA: number; excess: number | null } | null {
  let top = Number.NEGATIVE_INFINITY
  for (const value of values) if (value * way > top) top = value * way
  if (!(top > CLIPS_FROM_A)) return null
  const at: number[] = []
  let near = 0
  const tolerance = 1e-6 * top
  for (let i = 0; i < values.length; i++) {
    const value = values[i]! * way
    if (value >= top - tolerance) at.push(i)
    else if (value > 0.875 * top) near++
  }
  if (at.length < LEAST || at.length < near) return null
  let inRuns = 0
  for (let i = 0, run = 1; i < at.length; i++, run++) {
    if (at[i + 1] === at[i]! + 1) continue
    if (run >= RUN) inRuns += run
    run = 0
  }
  if (inRuns < 0.6 * at.length) return null
  const seen = witness ? expectedExcess(values, witness, at, top, way) : null
  if (!restless && !seen?.goesOn) return null
  for (const i of at) side[i] = way
  return { endA: top * way, excess: seen ? Math.max(0, seen.mean) : null }
}

/** The witness scaled to this current between half and 97 % of the top; null where too little is there to scale by. */
function expectedExcess(
  values: Float64Array,
  witness: Float64Array,
  at: readonly number[],
  top: number,
  way: 1 | -1,
): { mean: number; goesOn: boolean } | null {
  const ratios: number[] = []
  for (let i = 0; i < values.length; i++) {
    const value = values[i]! * way
    if (value > 0.5 * top && value < 0.97 * top) ratios.push(value / (witness[i]! * way))
  }
  const usable = ratios.filter((ratio) => ratio > 0)
  if (usable.length < FEWEST_RATIOS) return null
  const scale = median(usable)
  const spread = (quantile(usable, 0.75) - quantile(usable, 0.25)) / scale
  const excesses = at.map((i) => (witness[i]! * way * scale) / top - 1)
  const typical = median(excesses)
  return {
    mean: mean(excesses),
    goesOn: typical > GOES_ON_SHARE && typical > spread / Math.sqrt(Math.min(at.length, 25)),
  }
}
