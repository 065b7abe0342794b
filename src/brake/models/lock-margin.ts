import { brakeTrace } from '../../car/brake-trace.ts'
import type { Facts } from '../../facts/facts.ts'
import { type Axle, axleOf, needOfGrip, SPEEDS_KMH } from './axle-lock.ts'
import { brakeSplit } from './brake-split.ts'
import { type Figure, type RegenFit, regenMap } from './regen-map.ts'
import { liftPartNm, type SlowingMap, slowingNm } from './slowing-map.ts'

/** Steps of the press that are tried. */
const PRESSES = 60

/** Least grip at which the driven axle holds under regeneration alone, over every pressure and speed that was shown. */
export interface LockMargin {
  /** Vehicle-file fields that are missing; nothing is told while any is. */
  readonly missing: readonly string[]
  readonly grip: Figure | null
  /** The same with no foot on the brake: lift-off alone (mid-bend). */
  readonly liftGrip: number | null
  /** Where the most grip is needed. */
  readonly atPress: number
  readonly atKmh: number
  readonly atNm: number
  readonly axle: 'front' | 'rear' | null
  /** What the worst case was taken with, in words. */
  readonly worst: string
  readonly assumed: readonly string[]
}

/**
 * How much grip does today's map need of the driven axle before any friction acts?
 *
 * Model: F = torque · gear / wheel radius / rotating-mass factor; rear load = m g (1 − s) − F h / L, front load =
 *        m g s + F h / L; need = F / load, over all presses and speeds up to what the drive showed; empty and laden, the
 *        worse. Where the drive did not reach the map's most, the need is at least this.
 * Reads: `car.mass_kg`, `mass_laden_kg`, `front_mass_share`, `wheelbase_m`, `driven_axle`, gear and radius (else m/s² per
 *        N·m as driven); without the height of the centre of gravity the worse end of 0.40 to 0.65 m.
 * Blind: friction (it adds to the need, shared by the brakes' own balance), slope, side forces in a bend.
 * Source: moments about the other axle's contact (statics); UN R13-H Annex 5 compares the same utilisation (from memory).
 */
export function lockMargin(facts: Facts): LockMargin | null {
  const fit = facts.once(regenMap)
  const trace = facts.once(brakeTrace)
  if (!fit || !trace) return null
  const split = facts.once(brakeSplit)
  const car = axleOf(facts.vehicle, split?.perNm ?? null)
  if (car.missing.length > 0) return { ...NOTHING, missing: car.missing }
  return marginOf(fit, car.axles, car.assumed)
}

const NOTHING: LockMargin = {
  missing: [],
  grip: null,
  liftGrip: null,
  atPress: 0,
  atKmh: 0,
  atNm: 0,
  axle: null,
  worst: '',
  assumed: [],
}

function marginOf(fit: RegenFit, axles: readonly Axle[], assumed: readonly string[]): LockMargin {
  let found: LockMargin = { ...NOTHING, axle: axles[0]!.driven, assumed }
  let most = 0
  for (const axle of axles)
    for (const [kmh, press] of points(fit.map, fit.reachedPress)) {
      const nm = Math.min(slowingNm(fit.map, press, kmh), fit.reachedNm, fit.powerNmKmh / kmh)
      const need = needOfGrip(axle, nm)
      if (!(need > most)) continue
      most = need
      const error = fit.maxNm.plusMinus ?? 0
      found = {
        ...found,
        grip: {
          value: need,
          plusMinus: fit.maxNm.bound === 'exact' ? needOfGrip(axle, nm + error) - need : null,
          bound: fit.maxNm.bound,
        },
        atPress: press,
        atKmh: kmh,
        atNm: nm,
        worst: axle.named,
      }
    }
  const lift = fit.liftNm
    ? Math.max(
        ...axles.map((axle) => needOfGrip(axle, liftPartNm({ ...fit.map, liftNm: fit.liftNm!.value }, 50))),
      )
    : null
  return { ...found, liftGrip: lift }
}

/** Speeds and presses at which the map is looked at. */
export function* points(map: SlowingMap, highestPress: number): Generator<readonly [number, number]> {
  for (const kmh of [...SPEEDS_KMH, map.fade[1], map.liftFade[1]])
    for (let k = 0; k <= PRESSES; k++) yield [kmh, (highestPress * k) / PRESSES]
}
