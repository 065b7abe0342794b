import type { Vehicle } from '../../../shared/vehicle.ts'
import { type MapShape, mapNm } from './regen-map.ts'
import { GRAVITY_MS2 } from './road-load.ts'

/** What the check against the driven axle locking first needs, and what it found. */
export interface AxleLock {
  /** Vehicle-file fields that are missing; the check cannot be made while any is. */
  readonly missing: readonly string[]
  /** Does every point at which regeneration is raised hold? False while anything is missing. */
  readonly holds: boolean
  /** Worst share of the allowed grip used by the raised points; NaN where nothing is raised or it cannot be told. */
  readonly worstShare: number
  readonly atBar: number
  readonly atKmh: number
}

/** Low grip: packed snow or wet leaves; high grip: wet asphalt. Common practice, no source. */
export const LOW_GRIP = 0.25
export const HIGH_GRIP = 0.7
/** Of the low grip of the driven axle regeneration alone may take this share: the rest is the friction brake's. */
const REGEN_SHARE = 0.5
/** Share of friction braking taken to be done at the front, where the front axle is driven. Common practice, no source. */
const FRONT_FRICTION = 0.75
const RAISED_NM = 0.5
const SPEEDS_KMH = [5, 8, 12, 20, 30, 50, 80, 110, 140]

/**
 * Would the driven axle lock first where a proposal raises regeneration?
 *
 * Axle loads with the car slowing at z (in g): front m g (s + z h / L), rear m g (1 − s − z h / L).
 * At every pressure and speed at which the new map gives over 0.5 N·m more than the drive showed:
 *   low grip:  regeneration alone ≤ half of 0.25 · load of the driven axle (at z = what regeneration itself gives);
 *   high grip: regeneration and the driven axle's friction ≤ 0.7 · its load.
 * Friction is shared by load, or 75 % front where the front axle is driven (the worse case). Grip figures and shares:
 * common practice, no source. Friction per bar comes from the drive (`frictionNm`, N·m at the motor per bar).
 */
export function axleLock(
  vehicle: Vehicle,
  shown: MapShape,
  proposed: MapShape,
  frictionNm: number,
  biteBar: number,
  highestBar: number,
): AxleLock {
  const car = vehicle.car ?? {}
  const {
    mass_kg,
    wheel_radius_m,
    gear_ratio,
    driven_axle,
    wheelbase_m,
    front_mass_share,
    centre_of_gravity_m,
  } = car
  const driven = driven_axle?.toLowerCase()
  const missing = [
    ...(mass_kg === undefined ? ['mass_kg'] : []),
    ...(wheel_radius_m === undefined ? ['wheel_radius_m'] : []),
    ...(gear_ratio === undefined || Array.isArray(gear_ratio) ? ['gear_ratio'] : []),
    ...(driven === undefined || !/front|rear/.test(driven) ? ['driven_axle'] : []),
    ...(wheelbase_m === undefined ? ['wheelbase_m'] : []),
    ...(front_mass_share === undefined ? ['front_mass_share'] : []),
    ...(centre_of_gravity_m === undefined ? ['centre_of_gravity_m'] : []),
  ]
  let worstShare = Number.NaN
  let atBar = 0
  let atKmh = 0
  if (missing.length > 0)
    return { missing: missing.map((field) => `car.${field}`), holds: false, worstShare, atBar, atKmh }
  const mass = mass_kg!
  const toForce = (gear_ratio as number) / wheel_radius_m!
  const front = /front/.test(driven!)
  const weight = mass * GRAVITY_MS2
  const drivenLoad = (force: number): number => {
    const transfer = (force / weight) * (centre_of_gravity_m! / wheelbase_m!)
    return weight * (front ? front_mass_share! + transfer : 1 - front_mass_share! - transfer)
  }
  for (const kmh of SPEEDS_KMH)
    for (let bar = 0; bar <= highestBar; bar += 0.5) {
      const nm = mapNm(proposed, bar, kmh)
      if (nm - mapNm(shown, bar, kmh) <= RAISED_NM) continue
      const regen = nm * toForce
      const friction = frictionNm * Math.max(0, bar - biteBar) * toForce
      const lowShare = regen / (REGEN_SHARE * LOW_GRIP * drivenLoad(regen))
      const load = drivenLoad(regen + friction)
      const part = Math.max(load / weight, front ? FRONT_FRICTION : 0)
      const highShare = load > 0 ? (regen + part * friction) / (HIGH_GRIP * load) : Number.POSITIVE_INFINITY
      const share = Math.max(lowShare > 0 ? lowShare : Number.POSITIVE_INFINITY, highShare)
      if (!(share <= worstShare)) {
        worstShare = share
        atBar = bar
        atKmh = kmh
      }
    }
  return { missing: [], holds: !(worstShare > 1), worstShare, atBar, atKmh }
}

/** Most that a map gives above another at any pressure and speed, N·m. */
export function raisedNm(shown: MapShape, proposed: MapShape, highestBar: number): number {
  let most = 0
  for (const kmh of [
    ...SPEEDS_KMH,
    proposed.fade[0] + 0.5,
    proposed.fade[1],
    shown.fade[0] + 0.5,
    shown.fade[1],
  ])
    for (let bar = 0; bar <= highestBar; bar += 0.25)
      most = Math.max(most, mapNm(proposed, bar, kmh) - mapNm(shown, bar, kmh))
  return most
}
