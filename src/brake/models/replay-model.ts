import { brakeTrace } from '../../car/brake-trace.ts'
import { packPower } from '../../car/pack-power.ts'
import type { Facts } from '../../facts/facts.ts'
import { picked } from '../../math/picked.ts'
import { indexAt, linearAt } from '../../samples/on-one-clock.ts'
import { brakeEnergy } from './brake-energy.ts'
import { brakeSplit } from './brake-split.ts'
import { type DrivePower, drivePower } from './drive-power.ts'
import { arrivedPress } from './press-response.ts'
import { regenLimited, rpmPerKmh } from './regen-limited.ts'
import { regenLimits } from './regen-limits.ts'
import { type RegenFit, regenMap } from './regen-map.ts'
import { reachedAt, type SlowingMap, slowingNm, totalNm, withTotal } from './slowing-map.ts'

/** Slower, a power limit bounds no torque: it would be anything; no source. */
const TURNS_RAD_S = 5

/**
 * A drive's braking, ready to be driven again with another map: one entry per sample of a brake application (from the
 * press to its release or standstill). Torques are regeneration at the motor, N·m ≥ 0.
 */
export interface ReplayModel {
  readonly samples: number
  readonly dtS: Float64Array
  /** Number of the brake application. */
  readonly application: Int32Array
  readonly kmh: Float64Array
  readonly omega: Float64Array
  /** The driver's press, bar, and what of it has reached the map after the car's own delay. */
  readonly press: Float64Array
  readonly arrived: Float64Array
  /** Regeneration as driven, and what the fitted map explains of it. */
  readonly drivenNm: Float64Array
  readonly explainedNm: Float64Array
  /** 1 where something limited it, and the share of the braking that was, %: the review's own. */
  readonly limited: Uint8Array
  readonly limitedPercent: number | null
  /** Most that limits allowed, N·m: where held, what was reached; else by charge limit and constant power, or more. */
  readonly allowedNm: Float64Array
  readonly watts: Float64Array
  readonly amperes: Float64Array
  readonly volts: Float64Array
  readonly power: DrivePower
  /** Friction as motor torque per bar over the bite, and its 95 % half width; null where not separable. */
  readonly frictionNm: number | null
  readonly frictionPlusMinusNm: number
  /** The same as deceleration, m/s² per bar: the very figure of the split. */
  readonly frictionPerBar: number | null
  readonly frictionPerBarPlusMinus: number | null
  readonly biteBar: number
  /** m/s² per N·m at the motor; rolling and drag of the road, m/s² and m/s² per (km/h)². Null with friction. */
  readonly perNm: number
  readonly perNmPlusMinus: number
  readonly roll: number
  readonly drag: number
  /** The map as the drive showed it. */
  readonly driven: SlowingMap
  /** The same, held to the torque that the drive reached: nothing above this was shown. */
  readonly shown: SlowingMap
  /** Highest press that was seen above the fades, bar: nothing is drawn beyond. */
  readonly reachedBar: number
  /** Whole drive, Wh: charged by regeneration and drawn. */
  readonly chargedWh: number
  readonly drawnWh: number
  readonly scalePercent: number
}

const LONGEST_STEP_S = 0.5
const FINEST_S = 0.015

/** Gives null where the map, motor speed, battery power or a brake pressure is missing. */
export function replayModel(facts: Facts): ReplayModel | null {
  const trace = facts.once(brakeTrace)
  const fit = facts.once(regenMap)
  const power = facts.once(drivePower)
  const pack = facts.once(packPower)
  const energy = facts.once(brakeEnergy)
  const perKmh = facts.once(rpmPerKmh)
  if (trace?.input !== 'pressure' || !fit || !power || !pack || !energy || perKmh === null) return null
  const split = facts.once(brakeSplit)
  const marks = facts.once(regenLimits)
  const radPerKmh = (perKmh * 2 * Math.PI) / 60
  const stride = Math.max(1, Math.round(FINEST_S / trace.periodS))
  const keep: number[] = []
  const presses: number[] = []
  for (const [number, [from, to]] of trace.applications.entries())
    for (
      let i = Math.max(0, indexAt(trace.timeS, from));
      i < trace.timeS.length && trace.timeS[i]! <= to;
      i += stride
    )
      if (trace.kmh[i]! > 0 && Number.isFinite(trace.press[i]! + trace.torqueNm[i]!)) {
        keep.push(i)
        presses.push(number)
      }
  const pick = (values: ArrayLike<number>): Float64Array => picked(values, keep)
  const timeS = pick(trace.timeS)
  const template = facts.drive.channels.get('pack_current')!
  const onTrace = (values: Float64Array): Float64Array =>
    linearAt({ ...template, timeS: pack.timeS, values }, timeS, 3)
  const dtS = timeS.map((at, k) => {
    const step = k + 1 < timeS.length ? timeS[k + 1]! - at : 0
    return step <= LONGEST_STEP_S ? step : 0
  })
  const kmh = pick(trace.kmh)
  const press = pick(trace.press)
  const arrived = pick(arrivedPress(trace, fit.response))
  const omega = kmh.map((v) => v * radPerKmh)
  const drivenNm = pick(trace.torqueNm).map((nm) => Math.max(0, -nm))
  const explainedNm = arrived.map((bar, k) => slowingNm(fit.map, bar, kmh[k]!))
  const volts = onTrace(pack.volts)
  const held = facts.once(regenLimited)
  const limited = Uint8Array.from(keep, (i) => held?.held[i] ?? 0)
  const limitA = marks ? pick(marks.chargeLimitA) : kmh.map(() => Number.NaN)
  return {
    samples: keep.length,
    dtS,
    application: Int32Array.from(presses),
    kmh,
    omega,
    press,
    arrived,
    drivenNm,
    explainedNm,
    limited,
    limitedPercent: held && held.brakingS > 0 ? held.sharePercent : null,
    allowedNm: omega.map((w, k) =>
      limited[k] === 1
        ? drivenNm[k]!
        : Math.max(
            drivenNm[k]!,
            Math.min(chargeLimitNm(power, w, limitA[k]! * volts[k]!), fit.powerNmKmh / kmh[k]!),
          ),
    ),
    watts: onTrace(pack.watts),
    amperes: onTrace(pack.amperes),
    volts,
    power,
    frictionNm: split && split.perPress !== null ? split.perPress / split.perNm : null,
    frictionPlusMinusNm:
      split && split.perPress !== null
        ? (split.perPress / split.perNm) *
          Math.hypot((split.perPressPlusMinus ?? 0) / split.perPress, split.perNmPlusMinus / split.perNm)
        : 0,
    frictionPerBar: split?.perPress ?? null,
    frictionPerBarPlusMinus: split?.perPressPlusMinus ?? null,
    biteBar: split?.bite ?? 0,
    perNm: split?.perNm ?? 0,
    perNmPlusMinus: split?.perNmPlusMinus ?? 0,
    roll: split?.roll ?? 0,
    drag: split?.drag ?? 0,
    driven: fit.map,
    shown: shownOf(fit),
    reachedBar: fit.reachedPress,
    chargedWh: energy.inWh[energy.inWh.length - 1] ?? 0,
    drawnWh: energy.outWh[energy.outWh.length - 1] ?? 0,
    scalePercent: energy.scalePercent,
  }
}

/** The regeneration at which the battery takes `watts`; infinite where no limit is known. */
function chargeLimitNm(power: DrivePower, omega: number, watts: number): number {
  return Number.isFinite(watts) && omega > TURNS_RAD_S
    ? power.regenFor(watts, omega)
    : Number.POSITIVE_INFINITY
}

/** The fitted map cut off at the highest torque that the drive reached, where its end was not. */
export function shownOf({
  map,
  maxNm,
  reachedNm,
}: Pick<RegenFit, 'map' | 'maxNm' | 'reachedNm'>): SlowingMap {
  const cut = withTotal(map, Math.max(1, reachedNm))
  if (maxNm.bound === 'exact' || !(totalNm(map) > reachedNm) || !(cut.brakeNm > 0)) return map
  const full = map.start + ((map.full - map.start) * cut.brakeNm) / map.brakeNm
  // a jump stays as it is: the cut map is the same up to where it ends
  return { ...cut, full: Math.max(full, reachedAt({ ...cut, full })) }
}

/** The drive at every so many of its moments, each standing for those left out: for quick figures. */
export function thinned(model: ReplayModel, every: number): ReplayModel {
  const keep: number[] = []
  const dtS: number[] = []
  for (let k = 0; k < model.samples; k++) {
    if (k % every === 0) {
      keep.push(k)
      dtS.push(0)
    }
    dtS[dtS.length - 1] = dtS[dtS.length - 1]! + model.dtS[k]!
  }
  const pick = (values: Float64Array): Float64Array => picked(values, keep)
  return {
    ...model,
    samples: keep.length,
    dtS: Float64Array.from(dtS),
    application: Int32Array.from(keep, (k) => model.application[k]!),
    kmh: pick(model.kmh),
    omega: pick(model.omega),
    press: pick(model.press),
    arrived: pick(model.arrived),
    drivenNm: pick(model.drivenNm),
    explainedNm: pick(model.explainedNm),
    limited: Uint8Array.from(keep, (k) => model.limited[k]!),
    allowedNm: pick(model.allowedNm),
    watts: pick(model.watts),
    amperes: pick(model.amperes),
    volts: pick(model.volts),
  }
}
