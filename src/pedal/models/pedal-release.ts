import type { ChannelId } from '../../../shared/channels.ts'
import { brakeTrace } from '../../car/brake-trace.ts'
import { accelerator } from '../../car/pedal-travel.ts'
import { drivenSpeed, motorTorque } from '../../car/regen-torque.ts'
import type { Facts } from '../../facts/facts.ts'
import { linearAt } from '../../samples/on-one-clock.ts'

/** The motor turns backwards, beyond noise, and in how many readings; no source. */
const BACKWARDS_RPM = 60
/** See above. */
const FEWEST_BACKWARDS = 5
/** A motor that turns backwards now; no source. */
const TURNS_RPM = 20

/** Accelerator, torque, speed and direction on the torque's own clock, for the questions that join them. */
export interface PedalAndTorque {
  readonly timeS: Float64Array
  readonly percent: Float64Array
  readonly restPercent: number
  readonly noisePercent: number
  /** N·m in the car's direction of travel: positive drives the way it rolls (or is selected to roll). */
  readonly driveNm: Float64Array
  /** N·m as the motor has it, drive forward positive. */
  readonly motorNm: Float64Array
  readonly kmh: Float64Array
  /** −1, 0 or 1 of the selector; NaN where it is not logged. */
  readonly selector: Float64Array
  /** Motor speed, rpm, signed where the log signs it; NaN without. */
  readonly rpm: Float64Array
  /** Does the log ever show the motor running backwards? Without it, reverse cannot be told from forward. */
  readonly signedSpeed: boolean
  readonly signedTorque: boolean
  readonly channels: readonly string[]
}

const STALE_S = 2

/** Gives null without an accelerator or torque. Torque worked out from battery power is too coarse and gives null. */
export function pedalAndTorque(facts: Facts): PedalAndTorque | null {
  const pedal = facts.once(accelerator)
  const torque = facts.once(motorTorque)
  if (!pedal || !torque || torque.from === 'power') return null
  const { timeS, nm } = torque
  const hold = (id: ChannelId): Float64Array => {
    const found = facts.drive.channels.get(id)
    return found ? held(found.timeS, found.values, timeS) : new Float64Array(timeS.length).fill(Number.NaN)
  }
  const motor = facts.drive.channels.get('motor_speed')
  const rpm = motor ? linearAt(motor, timeS, STALE_S) : new Float64Array(timeS.length).fill(Number.NaN)
  const speed = facts.once(drivenSpeed)
  const backwards = motor
    ? motor.values.filter((value) => value < -BACKWARDS_RPM).length > FEWEST_BACKWARDS
    : false
  return {
    timeS,
    percent: held(pedal.timeS, pedal.percent, timeS),
    restPercent: pedal.restPercent,
    noisePercent: pedal.noisePercent,
    driveNm: nm.map((value, i) => (rpm[i]! < -TURNS_RPM ? -value : value)),
    motorNm: nm,
    kmh: speed ? linearAt(speed, timeS, STALE_S).map(Math.abs) : rpm.map(() => Number.NaN),
    selector: hold('selector'),
    rpm,
    signedSpeed: backwards,
    signedTorque: torque.sign !== 'unsigned',
    channels: [...pedal.channels, ...torque.channels],
  }
}

/** The later of the last sample and the one before it decides: NaN where the sample is stale. */
function held(timeS: Float64Array, values: Float64Array, atS: Float64Array): Float64Array {
  const out = new Float64Array(atS.length).fill(Number.NaN)
  let at = -1
  for (let i = 0; i < atS.length; i++) {
    while (at + 1 < timeS.length && timeS[at + 1]! <= atS[i]!) at++
    if (at >= 0 && atS[i]! - timeS[at]! <= STALE_S) out[i] = values[at]!
  }
  return out
}

/** Is the brake applied at each moment? By pressure or travel where logged, else by the switch; null where neither. */
export function brakeAppliedAt(facts: Facts, atS: Float64Array): Float64Array | null {
  const trace = facts.once(brakeTrace)
  if (!trace || trace.input === 'none') return null
  const firm = trace.input === 'pressure' ? Math.max(2, trace.begunAt) : trace.begunAt
  const on = trace.press.map((press) => (press > firm ? 1 : 0))
  return held(trace.timeS, on, atS)
}
