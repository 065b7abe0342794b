import { STANDING_KMH } from '../drive/motion.ts'
import type { Facts } from '../facts/facts.ts'
import { roadSpeedByMotor } from './road-speed-by-motor.ts'

export interface Distance {
  readonly km: number
  /** 95 %: the speed's scale, km. */
  readonly plusMinusKm: number
  readonly from: string
  /** Seconds without a reading, left out. */
  readonly gapsS: number
}

/** Readings further apart are a gap and leave the integral. */
const GAP_S = 5
/** Scale of a speed sensor (tyre, pulses) and of wheel radius over gearing. Common practice, no source. */
const SPEED_SCALE = 0.02
const MOTOR_SCALE = 0.04

/**
 * Distance by the trapezium rule over speed [km/h], either direction; else the mean of the wheel speeds; else motor
 * speed [rpm] · 2π/60 · wheel radius / gear ratio where the vehicle file gives both (of a gearbox: the gear's, by its channel).
 * Gives null where none of these is there. Blind across gaps over 5 s, to slip, and to the scale beyond its tolerance.
 */
export function distance(facts: Facts): Distance | null {
  const { channels } = facts.drive
  const speed = channels.get('speed')
  if (speed) return along(speed.timeS, speed.values, 1, SPEED_SCALE, 'speed')
  const wheels = [1, 2, 3, 4]
    .map((wheel) => channels.get(`wheel_speed.${wheel}`))
    .filter((wheel) => wheel !== undefined)
  if (wheels.length > 0) {
    const each = wheels.map((wheel) => along(wheel.timeS, wheel.values, 1, SPEED_SCALE, 'wheel speeds'))
    const mean = each.reduce((sum, { km }) => sum + km, 0) / each.length
    return { ...each[0]!, km: mean, plusMinusKm: SPEED_SCALE * mean }
  }
  const motor = facts.once(roadSpeedByMotor)
  if (!motor) return null
  return along(motor.timeS, motor.values, 1, MOTOR_SCALE, 'motor speed, wheel radius and gear ratio')
}

function along(
  timeS: ArrayLike<number>,
  values: ArrayLike<number>,
  factor: number,
  scale: number,
  from: string,
): Distance {
  let km = 0
  let gapsS = 0
  let last = -1
  const kmh = (i: number): number => {
    const speed = Math.abs(values[i]! * factor)
    return speed < STANDING_KMH ? 0 : speed
  }
  for (let i = 0; i < timeS.length; i++) {
    if (!Number.isFinite(values[i]!)) continue
    if (last >= 0) {
      const dt = timeS[i]! - timeS[last]!
      if (dt > GAP_S) gapsS += dt
      else km += ((kmh(i) + kmh(last)) / 2 / 3600) * dt
    }
    last = i
  }
  return { km, plusMinusKm: scale * km, from, gapsS }
}
