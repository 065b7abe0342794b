import type { RegenMap, Review } from '../../../shared/review.ts'
import type { ReplayModel } from './replay-model.ts'
import {
  aboveFades,
  brakeLeft,
  crossingOf,
  liftPartNm,
  reachedAt,
  type SlowingMap,
  slowingWith,
  totalNm,
  withTotal,
} from './slowing-map.ts'

/** Slower changes of speed, m/s², have no ratio; no source. */
const SLOWS_MS2 = 0.1

export type ReplayDriver = 'same-pressure' | 'same-deceleration'
export type Replay = NonNullable<Review['regen']>['replays'][number]

/** Share of the energy change that the power model may be wrong by, 95 %. From the study `npm run study:replay`. */
const CHANGE_SHARE = 0.06
const LEAST_SHARE = 0.02

/** A map as a person sets it, as the models use it: form, lift-off part and its fade stay as the drive showed them. */
export function mapOfReview(map: RegenMap, driven: SlowingMap): SlowingMap {
  const before = asRegenMap(driven)
  const moved = (['start_bar', 'full_bar', 'max_nm'] as const).some((key) => !alike(map[key], before[key]))
  return {
    ...withTotal(driven, map.max_nm),
    start: moved ? map.start_bar : driven.start,
    full: moved ? map.full_bar : driven.full,
    fade: [map.fade_kmh[0], map.fade_kmh[1]],
    step: moved ? null : driven.step,
  }
}

/** The same figure: the review keeps nine digits of it, a stored drive fewer, and sliders move in halves. */
const alike = (a: number, b: number): boolean => Math.abs(a - b) <= 2e-3 * Math.max(1, Math.abs(b))

/** Is this the map that the sliders begin with: as driven, held to what the drive showed? */
export function isAsDriven(model: ReplayModel, map: RegenMap): boolean {
  const before = asRegenMap(model.shown)
  return (
    (['start_bar', 'full_bar', 'max_nm'] as const).every((key) => alike(map[key], before[key])) &&
    map.fade_kmh.every((kmh, k) => alike(kmh, before.fade_kmh[k]!))
  )
}

export function asRegenMap(map: SlowingMap): RegenMap {
  return {
    start_bar: Math.max(0, map.start),
    full_bar: reachedAt(map),
    max_nm: totalNm(map),
    fade_kmh: [map.fade[0], map.fade[1]],
  }
}

/**
 * Drives the drive's own braking again with another map. Pure; a few milliseconds for a long drive.
 *
 * same-pressure:     the press is kept, so the car slows differently and each speed lasts longer or shorter:
 *                    dt' = dt · a / a', a = perNm · (regeneration + friction) + roll + drag v².
 * same-deceleration: the driver changes the press so that regeneration and friction together slow the car as before;
 *                    speeds and times stay. Needs friction per bar (else every figure is null).
 *
 * Regeneration' = regeneration as driven + (new map − fitted map) at the press that has arrived, held to the charge
 * limit; battery power' = battery power + P(T', ω) − P(T, ω) by `drivePower`. What the map does not explain (lag,
 * ripple, slope) is so carried over unchanged.
 * Figures cover the whole drive: energy charged, its share of the energy drawn, peak charge current in braking, share
 * of braking time at the charge limit, deceleration of the brake alone per bar above the fade.
 * Intervals (95 %): current and voltage scale, friction per bar, and `CHANGE_SHARE` of the change.
 */
export function replay(model: ReplayModel, shape: SlowingMap, driver: ReplayDriver): Replay {
  const none = {
    recovered_wh: null,
    recovered_wh_plus_minus: null,
    share_percent: null,
    peak_charge_a: null,
    peak_charge_a_plus_minus: null,
    at_limit_percent: null,
    deceleration_per_bar: null,
    deceleration_per_bar_plus_minus: null,
  }
  const head = { map: asRegenMap(shape), driver }
  if (driver === 'same-deceleration' && model.frictionNm === null) return { ...head, ...none }
  const run = drive(model, shape, driver, model.frictionNm)
  const recovered = Math.max(0, model.chargedWh + run.gainedWh)
  let byFriction = 0
  if (driver === 'same-deceleration' && model.frictionNm !== null)
    for (const side of [-1, 1]) {
      const friction = Math.max(0.05 * model.frictionNm, model.frictionNm + side * model.frictionPlusMinusNm)
      byFriction = Math.max(
        byFriction,
        Math.abs(drive(model, shape, driver, friction).gainedWh - run.gainedWh),
      )
    }
  const scale = (model.scalePercent / 100) * recovered
  const plusMinus = Math.hypot(scale, CHANGE_SHARE * run.gainedWh, byFriction, LEAST_SHARE * recovered)
  const errorShare = Math.hypot(
    model.perNm > 0 ? model.perNmPlusMinus / model.perNm : 0,
    model.frictionNm ? model.frictionPlusMinusNm / model.frictionNm : 0,
  )
  const perBar =
    model.frictionNm === null || !(run.pressSquare > 0) ? null : run.pressDeceleration / run.pressSquare
  return {
    ...head,
    recovered_wh: recovered,
    recovered_wh_plus_minus: plusMinus,
    share_percent: model.drawnWh > 0 ? (100 * recovered) / model.drawnWh : null,
    peak_charge_a: run.peakA,
    peak_charge_a_plus_minus: run.peakA * Math.hypot(model.scalePercent / 100, 0.03),
    at_limit_percent: run.brakingS > 0 ? (100 * run.limitedS) / run.brakingS : null,
    deceleration_per_bar: perBar,
    deceleration_per_bar_plus_minus: perBar === null ? null : perBar * errorShare,
  }
}

/** The drive itself: its own figures, beside the map that it showed. */
export function asDriven(model: ReplayModel, driver: ReplayDriver): Replay {
  const again = replay(model, model.driven, driver)
  const known = again.at_limit_percent !== null
  return {
    ...again,
    map: asRegenMap(model.shown),
    at_limit_percent: known ? model.limitedPercent : null,
  }
}

/** Wh recovered by a map for the same stops, without its interval. */
export function quickWh(model: ReplayModel, map: SlowingMap): number {
  return Math.max(0, model.chargedWh + drive(model, map, 'same-deceleration', model.frictionNm).gainedWh)
}

/** Highest charge current of a map for the same stops, A. */
export function peakChargeA(model: ReplayModel, map: SlowingMap): number {
  return drive(model, map, 'same-deceleration', model.frictionNm).peakA
}

/**
 * Change of the energy recovered, percent, with the 95 % half width of what another road of this kind would show: the
 * change is a ratio over the presses, and both roads draw theirs anew (ratio estimator, Cochran, Sampling Techniques, from
 * memory); `CHANGE_SHARE` of it is the power model's. Null under three presses or without friction per bar.
 */
export function energyChange(
  model: ReplayModel,
  map: SlowingMap,
): { readonly percent: number; readonly plusMinus: number } | null {
  if (model.frictionNm === null || !(model.chargedWh > 0)) return null
  const presses = (model.application[model.samples - 1] ?? -1) + 1
  const gained = new Float64Array(presses)
  const charged = new Float64Array(presses)
  drive(model, map, 'same-deceleration', model.frictionNm, { gained, charged })
  const sum = (values: Float64Array): number => values.reduce((a, b) => a + b, 0)
  const [all, gain] = [sum(charged), sum(gained)]
  if (presses < 3 || !(all > 0)) return null
  let squares = 0
  for (let k = 0; k < presses; k++) squares += (gained[k]! - (gain / all) * charged[k]!) ** 2
  const error = Math.sqrt((presses / (presses - 1)) * squares) / model.chargedWh
  const change = gain / model.chargedWh
  const both = 1.96 * Math.SQRT2 * error
  return { percent: 100 * change, plusMinus: 100 * Math.hypot(both, CHANGE_SHARE * change, LEAST_SHARE) }
}

interface Run {
  /** Charged more than as driven, Wh. */
  gainedWh: number
  peakA: number
  brakingS: number
  limitedS: number
  pressDeceleration: number
  pressSquare: number
}

/** Wh by brake application: gained by the map, and charged as driven. */
interface ByPress {
  readonly gained: Float64Array
  readonly charged: Float64Array
}

function drive(
  model: ReplayModel,
  map: SlowingMap,
  driver: ReplayDriver,
  frictionNm: number | null,
  by: ByPress | null = null,
): Run {
  const { driven, power, biteBar } = model
  const shape = plain(map)
  const run: Run = { gainedWh: 0, peakA: 0, brakingS: 0, limitedS: 0, pressDeceleration: 0, pressSquare: 0 }
  const fast = Math.max(aboveFades(shape), aboveFades(driven))
  const drivenW = asDrivenW(model)
  for (let k = 0; k < model.samples; k++) {
    const dt = model.dtS[k]!
    const watts = model.watts[k]!
    if (dt <= 0 || !Number.isFinite(watts)) continue
    const kmh = model.kmh[k]!
    const bar = model.press[k]!
    const behind = bar - model.arrived[k]!
    const asDriven = model.drivenNm[k]!
    const held = model.limited[k] === 1
    const unexplained = held ? 0 : asDriven - model.explainedNm[k]!
    const friction = frictionNm === null ? 0 : frictionNm * Math.max(0, bar - biteBar)
    const left = brakeLeft(shape, kmh)
    const lift = liftPartNm(shape, kmh)
    let press = bar
    let arrived = model.arrived[k]!
    if (driver === 'same-deceleration' && frictionNm !== null) {
      const asked = asDriven + friction - unexplained
      press = pressWith(shape, kmh, left, lift, asked, frictionNm, biteBar - behind) + behind
      arrived = press - behind
    }
    let nm = Math.max(0, slowingWith(shape, arrived, left, lift) + unexplained)
    const most = model.allowedNm[k]!
    const asks = slowingWith(shape, press - behind, left, lift) > 2
    let atLimit = false
    // what was held back as driven is held back again, unless the map asks for less than was given
    if (nm > most || (held && nm >= Math.min(most, model.explainedNm[k]!))) {
      atLimit = true
      nm = Math.min(nm, most)
      if (driver === 'same-deceleration' && frictionNm !== null)
        press = biteBar + Math.max(0, asDriven + friction - nm) / frictionNm
    }
    let step = dt
    if (driver === 'same-pressure' && model.perNm > 0) {
      const road = model.roll + model.drag * kmh * kmh
      const before = model.perNm * (asDriven + friction) + road
      const after = model.perNm * (nm + friction) + road
      step = before > SLOWS_MS2 && after > SLOWS_MS2 ? dt * Math.min(4, Math.max(0.25, before / after)) : dt
    }
    const omega = model.omega[k]!
    const now = watts + power.watts(-nm, omega) - drivenW[k]!
    const gainedWh = (Math.max(0, -now) * step - Math.max(0, -watts) * dt) / 3600
    run.gainedWh += gainedWh
    if (by) {
      const press = model.application[k]!
      by.gained[press]! += gainedWh
      by.charged[press]! += (Math.max(0, -watts) * dt) / 3600
    }
    const volts = model.volts[k]!
    const first = now / volts
    const amperes = now / (volts - power.packOhm * (first - model.amperes[k]!))
    if (-amperes > run.peakA) run.peakA = -amperes
    if (asks) {
      run.brakingS += step
      if (atLimit) run.limitedS += step
    }
    if (press > 1 && kmh > fast && frictionNm !== null) {
      const deceleration = model.perNm * (nm + frictionNm * Math.max(0, press - biteBar))
      run.pressDeceleration += deceleration * press * step
      run.pressSquare += press * press * step
    }
  }
  return run
}

/**
 * The least press at which map and friction together give a torque: both are straight between the map's bends, the
 * bite and zero, so the answer is found on the straight piece, or in the jump, that holds it.
 */
export function pressFor(
  shape: SlowingMap,
  kmh: number,
  nm: number,
  frictionNm: number,
  biteBar: number,
): number {
  return pressWith(shape, kmh, brakeLeft(shape, kmh), liftPartNm(shape, kmh), nm, frictionNm, biteBar)
}

/** The same with what the speed leaves of the brake part and the lift-off part there. */
function pressWith(
  shape: SlowingMap,
  kmh: number,
  left: number,
  lift: number,
  nm: number,
  frictionNm: number,
  biteBar: number,
): number {
  if (nm <= totalAt(shape, 0, left, lift, frictionNm, biteBar)) return 0
  const count = knotsOf(shape, kmh, Math.max(0, biteBar))
  for (let k = 0; k < count; k++) {
    const low = KNOTS[k]!
    const atLow = totalAt(shape, low + NEXT_TO, left, lift, frictionNm, biteBar)
    if (nm <= atLow) return low
    if (k + 1 === count) break
    const high = KNOTS[k + 1]!
    const atHigh = totalAt(shape, high - NEXT_TO, left, lift, frictionNm, biteBar)
    if (nm <= atHigh && atHigh > atLow) return low + ((nm - atLow) / (atHigh - atLow)) * (high - low)
  }
  const last = KNOTS[count - 1]!
  return last + (nm - totalAt(shape, last + NEXT_TO, left, lift, frictionNm, biteBar)) / frictionNm
}

/** Torque of the map and friction together at a press, N·m. */
function totalAt(
  shape: SlowingMap,
  bar: number,
  left: number,
  lift: number,
  frictionNm: number,
  biteBar: number,
): number {
  return slowingWith(shape, bar, left, lift) + frictionNm * Math.max(0, bar - biteBar)
}

/** A map with its fields in one order: candidates come from many hands, and compiled code knows one layout at a time. */
const plain = ({ form, start, full, brakeNm, fade, liftNm, liftFade, step }: SlowingMap): SlowingMap => ({
  form,
  start,
  full,
  brakeNm,
  fade: [fade[0], fade[1]],
  liftNm,
  liftFade: [liftFade[0], liftFade[1]],
  step: step && { at: step.at, nm: step.nm },
})

/** Battery power that the torque as driven stands for, by the power model, W: the same for every map. */
function asDrivenW(model: ReplayModel): Float64Array {
  const known = AS_DRIVEN.get(model)
  if (known) return known
  const watts = model.drivenNm.map((nm, k) => model.power.watts(-nm, model.omega[k]!))
  AS_DRIVEN.set(model, watts)
  return watts
}

const AS_DRIVEN = new WeakMap<ReplayModel, Float64Array>()

/** The map's bends and the bite, ascending, into `KNOTS`: this runs for every moment of a drive, so nothing is allocated. */
function knotsOf(shape: SlowingMap, kmh: number, bite: number): number {
  KNOTS[0] = 0
  let count = putKnot(1, bite)
  count = putKnot(count, shape.start)
  count = putKnot(count, reachedAt(shape))
  if (shape.step) count = putKnot(count, shape.step.at)
  if (shape.form === 'larger') count = putKnot(count, crossingOf(shape, kmh))
  return count
}

function putKnot(count: number, bar: number): number {
  if (!(bar >= 0)) return count
  let k = count
  for (; k > 0 && KNOTS[k - 1]! > bar; k--) KNOTS[k] = KNOTS[k - 1]!
  KNOTS[k] = bar
  return count + 1
}

const KNOTS = new Float64Array(8)

/** Beside a bend, bar: on the far side of a jump. */
const NEXT_TO = 1e-9
