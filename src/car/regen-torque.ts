import type { Channel } from '../../shared/drive.ts'
import { UNDER_WAY_KMH } from '../drive/motion.ts'
import type { Facts } from '../facts/facts.ts'
import { FEWEST_READINGS } from '../math/fewest.ts'
import { slidingSlope } from '../math/sliding-line.ts'
import { median, quantile } from '../math/stats.ts'
import { freshSamples } from '../samples/fresh-samples.ts'
import { heldAt, linearAt } from '../samples/on-one-clock.ts'
import { DRIVE_EFFICIENCY } from './drive-efficiency.ts'
import { packCurrent } from './pack-current.ts'
import { accelerator, acceleratorAt } from './pedal-travel.ts'
import { fileKmhPerRpm, roadSpeedByMotor } from './road-speed-by-motor.ts'
import { torqueSigns } from './torque-signs.ts'

/** The motor turns backwards; no source. */
const BACKWARDS_RPM = 50
/** The car is driven, km/h a second: more than a slope gives; no source. */
const GAINS_KMH_S = 1.5
/** It is braked, km/h a second: more than coasting; no source. */
const LOSES_KMH_S = 4
/** Fewer moments tell no sign; no source. */
const FEWEST_TELLING = 10
/** Slower, power over speed tells no torque; no source. */
const TURNS_RAD_S = 15

/** The motor's torque as analyses may use it: drive positive, regeneration negative, whatever the log's habit. */
export interface MotorTorque {
  readonly timeS: Float64Array
  readonly nm: Float64Array
  /** `unsigned` logs got their sign from the accelerator and the car's deceleration: no proof about that sign. */
  readonly sign: 'as-logged' | 'reversed' | 'unsigned'
  readonly from: 'torque' | 'torque_request' | 'power'
  /** Tolerance of the figure itself, percent (the inverter's estimate, or the efficiency assumed). */
  readonly errorPercent: number
  readonly channels: readonly string[]
}

/** The inverter's torque, else what was asked of it, else battery power over motor speed (efficiency 0.9 ± 0.06). */
export function motorTorque(facts: Facts): MotorTorque | null {
  return signed(facts, 'torque') ?? signed(facts, 'torque_request') ?? fromPower(facts)
}

/** The torque asked of the inverter, sign as above; null where it is not logged. */
export function requestedTorque(facts: Facts): MotorTorque | null {
  return signed(facts, 'torque_request')
}

function signed(facts: Facts, id: 'torque' | 'torque_request'): MotorTorque | null {
  const channel = facts.drive.channels.get(id)
  if (!channel) return null
  const { timeS, values } = freshSamples(channel)
  if (values.length < FEWEST_READINGS) return null
  const speed = facts.once(drivenSpeed)
  const sign = bySigns(facts, id) ?? (speed ? habit(facts, timeS, values, speed) : 'as-logged')
  const pedal = facts.once(accelerator)
  let nm = values
  if (sign === 'reversed') nm = values.map((value) => -value)
  if (sign === 'unsigned') {
    const percent = pedal ? acceleratorAt(pedal, timeS) : null
    const slope = speed
      ? linearAt({ ...speed, values: slidingSlope(speed.timeS, speed.values, 0.3) }, timeS)
      : null
    nm = values.map((value, i) => {
      const lifted = percent && pedal ? percent[i]! < pedal.restPercent + 2 : true
      return lifted && (slope?.[i] ?? 0) < 0 ? -Math.abs(value) : Math.abs(value)
    })
  }
  return {
    timeS,
    nm,
    sign,
    from: id,
    errorPercent: facts.vehicle.car?.torque_error_percent ?? 8,
    channels: [id],
  }
}

/** Where torque and request run opposite, `torqueSigns` has said which is turned; a motor that acts so stays as it is. */
function bySigns(facts: Facts, id: 'torque' | 'torque_request'): MotorTorque['sign'] | null {
  const turned = facts.once(torqueSigns)?.turned
  return turned ? (turned === id ? 'reversed' : 'as-logged') : null
}

/** The speed channel, else the mean of the wheels as a channel of its own; null without either. */
export function drivenSpeed(facts: Facts): Channel | null {
  const { channels } = facts.drive
  const speed = channels.get('speed') ?? channels.get('wheel_speed.1')
  if (speed) return { ...speed, ...freshSamples(speed) }
  return facts.once(roadSpeedByMotor)
}

/**
 * Which way round is the torque logged? While the car gains speed under torque it must be positive, while it slows
 * under torque negative. Decided by the median sign in each, over moments of at least a sixth of the usual peak.
 */
function habit(facts: Facts, timeS: Float64Array, values: Float64Array, speed: Channel): MotorTorque['sign'] {
  const motor = facts.drive.channels.get('motor_speed')
  const direction = motor ? linearAt(motor, timeS, 2) : null
  const kmh = linearAt(speed, timeS, 2)
  const slope = linearAt({ ...speed, values: slidingSlope(speed.timeS, speed.values, 0.5) }, timeS, 2)
  const peak = quantile(values.map(Math.abs), 0.995)
  const gaining: number[] = []
  const losing: number[] = []
  for (let i = 0; i < values.length; i++) {
    if (
      Math.abs(values[i]!) < peak / 6 ||
      !(kmh[i]! > UNDER_WAY_KMH) ||
      (direction && direction[i]! < -BACKWARDS_RPM)
    )
      continue
    if (slope[i]! > GAINS_KMH_S) gaining.push(Math.sign(values[i]!))
    else if (slope[i]! < -LOSES_KMH_S) losing.push(Math.sign(values[i]!))
  }
  const up = gaining.length >= FEWEST_TELLING ? median(gaining) : 0
  const down = losing.length >= FEWEST_TELLING ? median(losing) : 0
  if (up < 0) return 'reversed'
  if (up > 0 && down > 0 && quantile(values, 0.005) > -0.05 * peak) return 'unsigned'
  return 'as-logged'
}

/** T = P · 0.9 / ω driving, P / 0.9 / ω regenerating; needs pack voltage and current and the motor's speed. */
function fromPower(facts: Facts): MotorTorque | null {
  const current = facts.once(packCurrent)
  const volts = facts.drive.channels.get('pack_voltage') ?? facts.drive.channels.get('link_voltage')
  const motor = facts.drive.channels.get('motor_speed')
  const speed = facts.once(drivenSpeed)
  const perRpm = fileKmhPerRpm(facts)
  if (!current || !volts || !(motor || (speed && perRpm !== null))) return null
  const { timeS, amperes } = current
  const v = heldAt(volts, timeS, 2)
  const rpm = motor
    ? linearAt(motor, timeS, 2)
    : linearAt(speed!, timeS, 2).map((kmh) => kmh / (perRpm as number))
  const nm = amperes.map((a, i) => {
    const omega = (Math.abs(rpm[i]!) * 2 * Math.PI) / 60
    const watts = a * v[i]!
    return omega > TURNS_RAD_S
      ? (watts * (watts > 0 ? DRIVE_EFFICIENCY : 1 / DRIVE_EFFICIENCY)) / omega
      : Number.NaN
  })
  return {
    timeS,
    nm,
    sign: 'as-logged',
    from: 'power',
    errorPercent: 12,
    channels: ['pack_current', volts.id, motor ? 'motor_speed' : speed!.id],
  }
}
