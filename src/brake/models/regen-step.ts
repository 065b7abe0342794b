import { brakeTrace } from '../../car/brake-trace.ts'
import type { Facts } from '../../facts/facts.ts'
import { FEWEST_FOR_MEDIAN } from '../../math/fewest.ts'
import { jitter } from '../../math/jitter.ts'
import { median, robustSpread } from '../../math/stats.ts'
import { arrivedPress } from './press-response.ts'
import { heldBack } from './regen-limited.ts'
import { regenMap } from './regen-map.ts'
import { slowingNm } from './slowing-map.ts'
import { type Jump, STEP_SLOWEST_S, torqueJumps } from './torque-jumps.ts'

export interface RegenStep {
  /** Largest jump that the driver's press does not explain, N·m. */
  readonly jumpNm: number
  readonly plusMinusNm: number
  readonly atS: number
  readonly kmh: number
  readonly press: number
  /** Jumps over half of the largest, in this drive. */
  readonly times: number
  readonly windowS: number
}

/** A fade over less speed than this is a cut-out, not a fade, km/h. Common practice, no source. */
const NARROW_FADE_KMH = 2
/** A map steeper than its most over so much press is a jump, not a ramp, bar (% of travel). Common practice, no source. */
const STEEP_PRESS = 3
/** Jumps closer together are one, s. */
const APART_S = 1
/** So near to where a limit comes or goes, a jump is the limit's, s. */
const EDGE_S = 0.3
/**
 * A jump's own error beside noise, share of it: in the request, and through an inverter whose slewing reads as a lag.
 * Study: brake
 * maps, 2026-11-27 (29.9 N·m read for 32 through 250 N·m/s).
 */
const REQUEST_SHARE = 0.05
const SLEW_SHARE = 0.08

/**
 * Model: within 160 ms (two samples at 10 Hz) the torque may change by the map's slope times the change of the press
 * around it, by what the fade explains of the car's own speed, and by its noise; the rest is a jump. It counts where
 * even the widest change of press near it does not explain it; its size is the change from end to end less what press
 * and speed explain between the ends, so an inverter that slews does not shorten it.
 * The press is taken as it arrives after the fitted delay. A fade narrower than 2 km/h (a cut-out) and a ramp over less
 * than 3 bar explain nothing. Where limits held regeneration back for long, their coming and going are theirs.
 * Reads the torque request where logged, with the accelerator at rest.
 * Null where the log is slower than 10 Hz or no map was read.
 */
export function regenStep(facts: Facts): RegenStep | null {
  const trace = facts.once(brakeTrace)
  const fit = facts.once(regenMap)
  if (!trace || !fit || trace.periodS > STEP_SLOWEST_S) return null
  const { map } = fit
  const { timeS, press, kmh } = trace
  const analog = trace.input === 'pressure' || trace.input === 'travel'
  const slope = analog ? map.brakeNm / Math.max(STEEP_PRESS, map.full - map.start) : 0
  const share = trace.requestNm ? REQUEST_SHARE : SLEW_SHARE
  const noise = jitter(trace.requestNm ?? trace.torqueNm)
  const faint = map.fade[1] - map.fade[0] < NARROW_FADE_KMH
  const arrived = arrivedPress(trace, fit.response)
  const smooth = { ...map, step: null }
  const faded = (from: number, to: number): number =>
    slowingNm(smooth, press[to]!, kmh[to]!) - slowingNm(smooth, press[to]!, kmh[from - 1]!)
  const own = notTheLimits(
    facts,
    torqueJumps(trace, noise, { press: arrived, slope, faded: faint ? null : faded, ends: true }),
    timeS,
  )
  let worst: Jump | null = null
  for (const each of own) if (!worst || each.sureNm > worst.sureNm) worst = each
  if (!worst)
    return {
      jumpNm: 0,
      plusMinusNm: 3 * noise,
      atS: timeS[0]!,
      kmh: 0,
      press: 0,
      times: 0,
      windowS: 2 * trace.periodS,
    }
  const like = apart(
    own.filter((each) => each.sureNm > 0.5 * worst.sureNm),
    timeS,
  )
  const seen = {
    atS: timeS[worst.to]!,
    kmh: kmh[worst.to]!,
    times: like.length,
    windowS: timeS[worst.to]! - timeS[worst.from]!,
  }
  const fitted = map.step && fit.stepPlusMinusNm !== null ? map.step.nm : null
  if (fitted !== null && fitted > worst.sureNm / 2)
    return {
      ...seen,
      jumpNm: fitted,
      plusMinusNm: Math.hypot(fit.stepPlusMinusNm!, share * fitted),
      press: map.step!.at,
    }
  return { ...seen, ...sizeOf(worst, like, share, noise), press: press[worst.to]! }
}

/** Size of a jump and how surely: by the worst one, or by all of its times and direction. */
function sizeOf(
  worst: Jump,
  like: readonly Jump[],
  share: number,
  noise: number,
): Pick<RegenStep, 'jumpNm' | 'plusMinusNm'> {
  const sizes = like
    .filter((each) => Math.sign(each.nm) === Math.sign(worst.nm))
    .map((each) => Math.abs(each.nm))
  // a jump that repeats is measured by all its times, the worst alone would carry the worst of the noise
  const jumpNm =
    sizes.length >= FEWEST_FOR_MEDIAN ? median(sizes) : Math.max(worst.sureNm, Math.abs(worst.nm))
  return {
    jumpNm,
    plusMinusNm: Math.hypot(
      3 * noise,
      share * jumpNm,
      sizes.length >= FEWEST_FOR_MEDIAN ? (1.96 * robustSpread(sizes)) / Math.sqrt(sizes.length) : 0,
    ),
  }
}

/** The largest of each moment, a second apart. */
function apart(jumps: readonly Jump[], timeS: Float64Array): Jump[] {
  const kept: Jump[] = []
  for (const each of jumps) {
    const last = kept[kept.length - 1]
    if (!last || timeS[each.to]! - timeS[last.to]! >= APART_S) kept.push(each)
    else if (each.sureNm > last.sureNm) kept[kept.length - 1] = each
  }
  return kept
}

function notTheLimits(facts: Facts, jumps: readonly Jump[], timeS: Float64Array): readonly Jump[] {
  const spans = heldBack(facts)?.spans ?? []
  if (spans.length === 0) return jumps
  return jumps.filter(
    ({ from, to }) =>
      !spans.some(([start, end]) => timeS[to]! > start - EDGE_S && timeS[from]! < end + EDGE_S),
  )
}
