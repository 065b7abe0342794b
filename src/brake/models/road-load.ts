/**
 * Road load: the force against which a car rolls, F = f0 + f2 · v² with v in km/h, and what follows from it.
 * Form: SAE J1263 and J2263, 40 CFR 1066.301. Checked against the printed coast-down times of 40 CFR 86.529-98.
 */
export interface RoadLoad {
  /** N */
  readonly f0: number
  /** N / (km/h)² */
  readonly f2: number
}

export const GRAVITY_MS2 = 9.80665
/** kg/m³ at 15 °C and sea level: ISO standard atmosphere, from memory. */
const AIR_DENSITY = 1.225

/** N at a speed in km/h. */
export function roadForceN(load: RoadLoad, kmh: number): number {
  return load.f0 + load.f2 * kmh * kmh
}

/** W at a speed in km/h. */
export function roadPowerW(load: RoadLoad, kmh: number): number {
  return (roadForceN(load, kmh) * kmh) / 3.6
}

/** Road load of the vehicle file's figures: rolling coefficient and drag area (air density 1.225 kg/m³). */
export function roadLoadOf(massKg: number, rollingCoefficient: number, dragAreaM2: number): RoadLoad {
  return { f0: massKg * GRAVITY_MS2 * rollingCoefficient, f2: (0.5 * AIR_DENSITY * dragAreaM2) / 3.6 ** 2 }
}

/**
 * Time to coast from one speed to a lower one, s: (m / 3.6) ∫ dv / F(v), in closed form. `massKg` includes what turns.
 */
export function coastDownS(load: RoadLoad, massKg: number, fromKmh: number, toKmh: number): number {
  const { f0, f2 } = load
  if (f2 <= 0) return ((massKg / 3.6) * (fromKmh - toKmh)) / f0
  if (f0 <= 0) return ((massKg / 3.6) * (1 / toKmh - 1 / fromKmh)) / f2
  const root = Math.sqrt(f0 * f2)
  const angle = (kmh: number): number => Math.atan((kmh * f2) / root)
  return ((massKg / 3.6) * (angle(fromKmh) - angle(toKmh))) / root
}

/** Wh that a car gives up from one speed to a lower one: ½ m v². More than this cannot be regenerated on the level. */
export function kineticWh(massKg: number, fromKmh: number, toKmh: number): number {
  return (0.5 * massKg * (fromKmh ** 2 - toKmh ** 2)) / 3.6 ** 2 / 3600
}

/**
 * Mean fully developed deceleration, m/s², from the distances (m) and speeds (km/h) at 0.8 and 0.1 of the first speed.
 * Source: UN R13 Annex 4, 1.1.2.
 */
export function meanFullyDevelopedMs2(fromKmh: number, toKmh: number, fromM: number, toM: number): number {
  return (fromKmh ** 2 - toKmh ** 2) / (25.92 * (toM - fromM))
}
