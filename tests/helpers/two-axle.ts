/**
 * A car on two axles that slows by its motor alone, written apart from the check in src/brake/models/axle-lock.ts: the
 * driven wheels turn by themselves, tyres give force by their slip, the body pitches before the loads have moved.
 *
 *     J dω/dt = r · (F(slip) − own rolling) − T          m dv/dt = −F − other axle's rolling − air
 *     F(slip) = grip · load · sin(1.5 · atan(14 · slip))   rises to the grip at a tenth of slip, falls beyond
 *
 * Tyre curve: shape of the usual empirical formula (Bakker, Nyborg, Pacejka, SAE 870421), figures from memory.
 */
export interface TwoAxleCar {
  readonly massKg: number
  readonly frontShare: number
  readonly heightM: number
  readonly wheelbaseM: number
  readonly driven: 'front' | 'rear'
  readonly gear: number
  readonly radiusM: number
  /** kg m²: each wheel, and the motor's rotor. */
  readonly wheelInertia: number
  readonly rotorInertia: number
  readonly dragAreaM2: number
}

const G = 9.81
const STEP_S = 0.001
/** Locked: the wheel turns at less than this share of the car's speed. */
const LOCKED_SHARE = 0.4

/** Does the driven axle lock while the motor slows the car with a torque, from a speed, on a grip? */
export function locks(car: TwoAxleCar, motorNm: number, grip: number, fromKmh = 60): boolean {
  const own = car.driven === 'front' ? car.frontShare : 1 - car.frontShare
  const side = car.driven === 'front' ? 1 : -1
  const inertia = 2 * car.wheelInertia + car.rotorInertia * car.gear ** 2
  const others = (2 * car.wheelInertia) / car.radiusM ** 2
  let speed = fromKmh / 3.6
  let wheel = speed / car.radiusM
  let felt = 0
  let torque = 0
  for (let t = 0; t < 4 && speed > 3; t += STEP_S) {
    torque += (motorNm * car.gear - torque) * (STEP_S / 0.06)
    const load = car.massKg * (G * own + (side * felt * car.heightM) / car.wheelbaseM)
    const slip = 1 - (wheel * car.radiusM) / speed
    const force = grip * Math.max(0, load) * Math.sin(1.5 * Math.atan(14 * slip))
    const rolling = 0.011 * car.massKg * G
    const slows = (force + rolling * (1 - own) + 0.6 * car.dragAreaM2 * speed ** 2) / (car.massKg + others)
    wheel = Math.max(0, wheel + (STEP_S * (car.radiusM * (force - rolling * own) - torque)) / inertia)
    speed -= STEP_S * slows
    felt += (slows - felt) * (STEP_S / 0.15)
    if (wheel * car.radiusM < LOCKED_SHARE * speed) return true
  }
  return false
}
