import { brakeTrace } from '../../car/brake-trace.ts'
import type { Facts } from '../../facts/facts.ts'
import { median, quantile } from '../../math/stats.ts'
import { brakeApplications } from './brake-applications.ts'
import { type BrakeSplit, brakeSplit } from './brake-split.ts'
import { regenDelay } from './regen-delay.ts'
import { type RegenFit, regenMap } from './regen-map.ts'
import { aboveFades, type SlowingMap, slowingNm } from './slowing-map.ts'

/** A figure of feel that a fitter can say and check. */
export interface Feel {
  readonly what: string
  readonly value: number
  readonly plusMinus: number | null
  readonly unit: string
  readonly limit: number | null
  readonly limitSource: string
}

/** What slows the car per press: regeneration by a map, friction by the drive. */
export interface Slows {
  readonly perNm: number
  readonly perPress: number
  readonly bite: number
}

/** The first bar of a press, and the share of presses whose peak is usual. */
const FIRST_BAR = 1
const USUAL = 0.9
/** Width of a bin in which m/s² per bar is looked at, bar: a foot tells no less. Common practice, no source. */
const BIN_BAR = 1.5
/** On either side of a jump, bar. */
const BESIDE = 1e-9
/** A smaller jump is none, m/s². Common practice, no source. */
const LEAST_JUMP_MS2 = 1e-3
const NONE = 'no limit published'
const PRACTICE = 'common practice, no source'
/** Delays over this a driver notices, s. Common practice, no source. */
const DELAY_S = 0.3

/** Highest press of usual braking: nine in ten presses peak below it. */
export function usualPress(facts: Facts): number {
  const peaks = facts.once(brakeApplications).map((each) => each.peak)
  return peaks.length > 0 ? quantile(peaks, USUAL) : 0
}

/** What a press adds in deceleration above the fades, m/s². */
function pressMs2(map: SlowingMap, slows: Slows, bar: number): number {
  const fast = aboveFades(map) + 5
  return (
    slows.perNm * (slowingNm(map, bar, fast) - slowingNm(map, 0, fast)) +
    slows.perPress * Math.max(0, bar - slows.bite)
  )
}

/** Worst departure of m/s² per bar from its mean, from the first bar to usual presses, percent of the mean. */
export function unevenPercent(map: SlowingMap, slows: Slows, usual: number): number {
  if (!(usual > FIRST_BAR + 2 * BIN_BAR)) return Number.NaN
  const mean = (pressMs2(map, slows, usual) - pressMs2(map, slows, FIRST_BAR)) / (usual - FIRST_BAR)
  let worst = 0
  const bins = Math.max(2, Math.round((usual - FIRST_BAR) / BIN_BAR))
  const width = (usual - FIRST_BAR) / bins
  for (let k = 0; k < bins; k++) {
    const from = FIRST_BAR + k * width
    const slope = (pressMs2(map, slows, from + width) - pressMs2(map, slows, from)) / width
    worst = Math.max(worst, Math.abs(slope / mean - 1))
  }
  return mean > 0 ? 100 * worst : Number.NaN
}

/** Jump of the torque where the brake part begins: up where the map steps, down where it replaces lift-off. N·m. */
export function startJumpNm(map: SlowingMap): number {
  const fast = aboveFades(map) + 5
  const at = map.step && map.step.at - map.start < FIRST_BAR ? map.step.at : map.start
  return slowingNm(map, at + BESIDE, fast) - slowingNm(map, Math.max(0, at - BESIDE), fast)
}

/**
 * Feel of the brake, from the one map and this drive's own deceleration per N·m and per bar. Each with its limit or "no
 * limit published". Empty where no map was read.
 */
export function brakeFeel(facts: Facts): readonly Feel[] {
  const fit = facts.once(regenMap)
  const trace = facts.once(brakeTrace)
  const split = facts.once(brakeSplit)
  if (!fit || !trace) return []
  const delay = facts.once(regenDelay)
  const timing: Feel[] = delay
    ? [
        of('delay from press to slowing', delay.delayS, delay.plusMinusS, 's', DELAY_S, PRACTICE),
        ...(delay.outlastsS === null
          ? []
          : [
              of(
                'longest that slowing outlasts a release',
                delay.outlastsS,
                trace.periodS,
                's',
                DELAY_S,
                PRACTICE,
              ),
            ]),
      ]
    : []
  if (!split || trace.input !== 'pressure') return timing
  return [
    ...timing,
    ...pressFeel(
      fit,
      split,
      Math.min(usualPress(facts), fit.reachedPress),
      median(facts.once(brakeApplications).map((a) => a.peak)),
    ),
  ]
}

const of = (
  what: string,
  value: number,
  plusMinus: number | null,
  unit: string,
  limit: number | null = null,
  limitSource = NONE,
): Feel => ({ what, value, plusMinus, unit, limit, limitSource })

function pressFeel(fit: RegenFit, split: BrakeSplit, usual: number, middle: number): Feel[] {
  const { map } = fit
  const share = split.perNmPlusMinus / split.perNm
  const jump = Math.abs(startJumpNm(map)) * split.perNm
  const jumps = jump > LEAST_JUMP_MS2
  const feel = [of('jump where regeneration starts', jumps ? jump : 0, jumps ? jump * share : null, 'm/s²')]
  if (split.perPress === null) return feel
  const slows: Slows = { perNm: split.perNm, perPress: split.perPress, bite: split.bite }
  const unsure = Math.hypot(share, (split.perPressPlusMinus ?? 0) / split.perPress)
  const uneven = unevenPercent(map, slows, usual)
  if (Number.isFinite(uneven))
    feel.push(of('worst departure from even slowing per bar', uneven, uneven * unsure, '%'))
  if (fit.fadeKmh) {
    // what the foot must add while regeneration fades away under it, to slow the car as before
    const added = (split.perNm * slowingNm(map, middle, aboveFades(map) + 5)) / split.perPress
    feel.push(of('press to be added while regeneration fades', added, added * unsure, 'bar'))
  }
  const { full } = fit
  if (full?.bound === 'exact' && full.value < usual) {
    const at = full.value
    const before = (pressMs2(map, slows, at) - pressMs2(map, slows, at - BIN_BAR)) / BIN_BAR
    const after = (pressMs2(map, slows, at + BIN_BAR) - pressMs2(map, slows, at)) / BIN_BAR
    const lost = 100 * (1 - after / before)
    feel.push(of('slowing per bar lost at the hand-over to friction', lost, lost * unsure, '%'))
  }
  return feel
}
