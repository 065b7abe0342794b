import type { Vehicle } from '../../../shared/vehicle.ts'
import { GRAVITY_MS2 } from './motion-energy.ts'
import { type SlowingMap, slowingNm } from './slowing-map.ts'

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
/** Raised by less is not raised, N·m: what two readings of one map differ by. Common practice, no source. */
export const RAISED_NM = 0.5
export const SPEEDS_KMH = [5, 8, 12, 20, 30, 50, 80, 110, 140]

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
  shown: SlowingMap,
  proposed: SlowingMap,
  frictionNm: number,
  biteBar: number,
  highestBar: number,
): AxleLock {
  const { missing, axles } = axleOf(vehicle, null)
  let worstShare = Number.NaN
  let atBar = 0
  let atKmh = 0
  if (missing.length > 0) return { missing, holds: false, worstShare, atBar, atKmh }
  for (const axle of axles) {
    const { weight, toForce } = axle
    const front = axle.driven === 'front'
    for (const kmh of SPEEDS_KMH)
      for (let bar = 0; bar <= highestBar; bar += 0.5) {
        const nm = slowingNm(proposed, bar, kmh)
        if (nm - slowingNm(shown, bar, kmh) <= RAISED_NM) continue
        const regen = nm * toForce
        const friction = frictionNm * Math.max(0, bar - biteBar) * toForce
        const lowShare = regen / (REGEN_SHARE * LOW_GRIP * loadOf(axle, regen))
        const load = loadOf(axle, regen + friction)
        const part = Math.max(load / weight, front ? FRONT_FRICTION : 0)
        const highShare = load > 0 ? (regen + part * friction) / (HIGH_GRIP * load) : Number.POSITIVE_INFINITY
        const share = Math.max(lowShare > 0 ? lowShare : Number.POSITIVE_INFINITY, highShare)
        if (!(share <= worstShare)) {
          worstShare = share
          atBar = bar
          atKmh = kmh
        }
      }
  }
  return { missing: [], holds: !(worstShare > 1), worstShare, atBar, atKmh }
}

/** The driven axle of a car, as one way of loading it and one height of its centre of gravity put it. */
export interface Axle {
  readonly driven: 'front' | 'rear'
  readonly weight: number
  readonly frontShare: number
  /** Height of the centre of gravity over the wheelbase. */
  readonly lever: number
  /** N at the tyres per N·m at the motor. */
  readonly toForce: number
  /** This case in words. */
  readonly named: string
}

/**
 * Heights of the centre of gravity of small cars, m, where the vehicle file has none: the worse end is used. Contract
 * of issue 17; common practice, no source.
 */
const HEIGHTS_M = [0.4, 0.65] as const

/**
 * The driven axle empty and laden, with each end of an unknown height. `perNm` (m/s² per N·m, as driven) stands in for
 * gear and wheel radius. What turns relieves the tyre: the force is divided by the rotating-mass factor where given.
 */
export function axleOf(
  vehicle: Vehicle,
  perNm: number | null,
): { missing: readonly string[]; axles: readonly Axle[]; assumed: readonly string[] } {
  const car = vehicle.car ?? {}
  const { gear_ratio, wheel_radius_m, mass_kg, wheelbase_m, front_mass_share } = car
  const geared = wheel_radius_m !== undefined && typeof gear_ratio === 'number'
  const named = car.driven_axle?.toLowerCase()
  const known = named !== undefined && /front|rear/.test(named)
  const missing = [
    ...(mass_kg === undefined ? ['mass_kg'] : []),
    ...(wheel_radius_m === undefined && perNm === null ? ['wheel_radius_m'] : []),
    ...(typeof gear_ratio !== 'number' && perNm === null ? ['gear_ratio'] : []),
    ...(known ? [] : ['driven_axle']),
    ...(wheelbase_m === undefined ? ['wheelbase_m'] : []),
    ...(front_mass_share === undefined ? ['front_mass_share'] : []),
  ].map((field) => `car.${field}`)
  if (missing.length > 0) return { missing, axles: [], assumed: [] }
  const height = car.centre_of_gravity_m
  const turning = car.rotating_mass_factor ?? 1
  const masses = [
    { kg: mass_kg!, as: 'empty' },
    ...(car.mass_laden_kg === undefined ? [] : [{ kg: car.mass_laden_kg, as: 'laden' }]),
  ]
  const axles = masses.flatMap(({ kg, as }) =>
    (height === undefined ? HEIGHTS_M : [height]).map(
      (h): Axle => ({
        driven: /front/.test(named!) ? 'front' : 'rear',
        weight: kg * GRAVITY_MS2,
        frontShare: front_mass_share!,
        lever: h / wheelbase_m!,
        toForce: geared ? gear_ratio / wheel_radius_m / turning : perNm! * mass_kg!,
        named: `${as}, ${kg} kg, centre of gravity at ${h.toFixed(2)} m${height === undefined ? ' (assumed)' : ''}`,
      }),
    ),
  )
  const assumed = [
    ...(height === undefined
      ? [
          `centre of gravity ${HEIGHTS_M[0].toFixed(2)} to ${HEIGHTS_M[1].toFixed(2)} m high, the worse end: not in the vehicle file`,
        ]
      : []),
    ...(masses.length > 1 ? ['the front axle carries the same share laden as empty'] : []),
  ]
  return { missing, axles, assumed }
}

/** Load of the driven axle while a force (N) slows the car, N. */
function loadOf({ driven, weight, frontShare, lever }: Axle, forceN: number): number {
  const moved = forceN * lever
  return driven === 'front' ? weight * frontShare + moved : weight * (1 - frontShare) - moved
}

/** Grip that regeneration alone needs of the driven axle; infinite where the axle would lift. */
export function needOfGrip(axle: Axle, nm: number): number {
  const force = nm * axle.toForce
  const load = loadOf(axle, force)
  return load > 0 ? force / load : Number.POSITIVE_INFINITY
}

/** Most that a map gives above another at any pressure and speed, N·m. */
export function raisedNm(shown: SlowingMap, proposed: SlowingMap, highestBar: number): number {
  let most = 0
  for (const kmh of [
    ...SPEEDS_KMH,
    proposed.fade[0] + 0.5,
    proposed.fade[1],
    shown.fade[0] + 0.5,
    shown.fade[1],
  ])
    for (let bar = 0; bar <= highestBar; bar += 0.25)
      most = Math.max(most, slowingNm(proposed, bar, kmh) - slowingNm(shown, bar, kmh))
  return most
}
