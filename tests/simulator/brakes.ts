import type { Car } from './car.ts'
import { liftNm, pressNm } from './controller-map.ts'
import { type Fault, faultsOf } from './faults.ts'

/**
 * Regenerative torque asked for by the brake (N·m at the motor, positive = braking):
 *
 *     0 below start; (p − start) / (full − start) · max up to max; times the fade, 0 at the low and 1 at the high
 *     speed. With the accelerator released the lift-off torque is added, with the same fade.
 *
 * Faults: a dead band puts the start further up (the full pressure stays), a step jumps at its pressure.
 */
export class RegenMap {
  readonly startBar: number
  private readonly step: { bar: number; nm: number } | null

  constructor(
    private readonly car: Car,
    faults: readonly Fault[],
  ) {
    this.startBar = Math.max(
      car.brake.startBar,
      ...faultsOf(faults, 'regen-dead-band').map((fault) => fault.bar),
    )
    this.step = faultsOf(faults, 'regen-step')[0] ?? null
  }

  fade(kmh: number): number {
    const [low, high] = this.car.brake.fadeKmh
    return Math.max(0, Math.min(1, (kmh - low) / (high - low)))
  }

  /** What the press adds to lift-off. */
  pressTorque(bar: number, kmh: number): number {
    const { map } = this.car.brake
    if (map) return pressNm(map, { ...this.car.brake, startBar: this.startBar }, bar, kmh)
    const { fullBar, maxNm } = this.car.brake
    const share = Math.max(0, Math.min(1, (bar - this.startBar) / (fullBar - this.startBar)))
    const jump = this.step && bar >= this.step.bar ? this.step.nm : 0
    return Math.min(maxNm, share * maxNm + jump) * this.fade(kmh)
  }

  liftTorque(kmh: number): number {
    const { map } = this.car.brake
    return map ? liftNm(map, this.car.brake, kmh) : this.car.brake.liftNm * this.fade(kmh)
  }
}

/** Friction force of all wheels, N. */
export function frictionNewton(car: Car, bar: number): number {
  return car.brake.frictionNewtonBar * Math.max(0, bar - car.brake.biteBar)
}

/** Rolling, air and slope, N at the wheels; at rest the rolling part only holds. */
export function roadLoad(car: Car, speedMs: number, slope: number): number {
  const { massKg, rolling, dragAreaM2 } = car.road
  return (
    massKg * 9.81 * (rolling * Math.min(1, speedMs * 5) + slope) + 0.5 * 1.2 * dragAreaM2 * speedMs * speedMs
  )
}

/** Largest motor torque at a speed: constant up to the corner, then constant power. */
export function torqueCeiling(car: Car, omega: number): number {
  return Math.min(car.road.motorMaxNm, car.road.motorMaxW / Math.max(1, omega))
}

/** Electrical loss of motor and inverter, W: idle, copper (∝ torque²), iron and switching (∝ speed). Own figures. */
export function driveLoss(torqueNm: number, omega: number): number {
  return 60 + 0.09 * torqueNm * torqueNm + 1.1 * omega + 0.0009 * omega * omega
}
