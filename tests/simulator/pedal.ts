import type { Car } from './car.ts'
import { active, type Fault, faultsOf } from './faults.ts'
import type { Random } from './random.ts'

/**
 * Accelerator pedal: one travel (0 … 1), two tracks on their own shafts.
 *
 *     volt = released + travel' · (pressed − released)
 *
 * within 0 … 5 V of the supply. travel' lags behind the true travel by up to half the play (hysteresis) and bends by a per mille or so; noise is
 * left to the box that reads it. Track 2 may mirror track 1 or run the same way with half its slope: its end points
 * say. Torque follows from travel: lift-off torque at 0, nothing at 6 %, then a power of 1.2 up to the ceiling.
 */
export class PedalTracks {
  readonly volt = [0, 0]
  private readonly behind = [0, 0]
  private readonly bend: readonly [number, number]

  constructor(
    private readonly car: Car,
    private readonly faults: readonly Fault[],
    random: Random,
  ) {
    this.bend = [random.between(-0.004, 0.004), random.between(-0.004, 0.004)]
  }

  step(timeS: number, travel: number): void {
    const play = this.car.pedal.hysteresisPoints / 200
    for (let track = 0; track < 2; track++) {
      const [released, pressed] = track === 0 ? this.car.pedal.track1 : this.car.pedal.track2
      const behind = Math.min(travel + play, Math.max(travel - play, this.behind[track]!))
      this.behind[track] = behind
      let seen = Math.max(0, behind) + this.bend[track]! * Math.sin(Math.PI * travel)
      seen += this.moved(timeS, track + 1) / 100
      this.volt[track] = Math.max(0, Math.min(5, released + seen * (pressed - released)))
    }
    for (const short of faultsOf(this.faults, 'pedal-short'))
      if (active(short, timeS)) this.volt[0] = this.volt[1] = (this.volt[0]! + this.volt[1]!) / 2
    for (const fault of faultsOf(this.faults, 'pedal-out-of-range'))
      if (active(fault, timeS)) this.volt[(fault.track ?? 1) - 1] = fault.volt
  }

  /** Points of travel that faults add to a track now. */
  private moved(timeS: number, track: number): number {
    let points = 0
    for (const fault of faultsOf(this.faults, 'pedal-drift'))
      if ((fault.track ?? 2) === track && active(fault, timeS)) points += fault.points * ramp(fault, timeS)
    for (const fault of faultsOf(this.faults, 'pedal-blip'))
      if ((fault.track ?? 2) === track && timeS >= fault.atS && timeS < fault.atS + fault.lenS)
        points += fault.points
    return points
  }
}

/** 0 → 1 over the first tenth, back to 0 over the last tenth. */
function ramp(fault: { fromS?: number; toS?: number }, timeS: number): number {
  const fromS = fault.fromS ?? 0
  const edge = Math.max(0.01, ((fault.toS ?? fromS + 10) - fromS) / 10)
  return Math.min(1, (timeS - fromS) / edge, ((fault.toS ?? Number.POSITIVE_INFINITY) - timeS) / edge)
}

const FREE = 0.06

/** Torque the pedal asks for, N·m. @param lift lift-off torque now, @param ceiling the motor's largest now. */
export function pedalTorque(travel: number, lift: number, ceiling: number): number {
  return travel < FREE ? -lift * (1 - travel / FREE) : ((travel - FREE) / (1 - FREE)) ** 1.2 * ceiling
}

/** The travel that gives a torque: inverse of `pedalTorque`. */
export function travelFor(torqueNm: number, lift: number, ceiling: number): number {
  if (torqueNm <= 0) return lift > 0 ? FREE * Math.max(0, 1 + torqueNm / lift) : torqueNm < 0 ? 0 : FREE
  return FREE + (1 - FREE) * Math.min(1, torqueNm / ceiling) ** (1 / 1.2)
}
