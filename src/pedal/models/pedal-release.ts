import { brakeTrace } from '../../car/brake-trace.ts'
import { accelerator } from '../../car/pedal-travel.ts'
import { drivenSpeed, motorTorque } from '../../car/regen-torque.ts'
import type { Facts } from '../../facts/facts.ts'
import { linearAt } from '../../samples/on-one-clock.ts'

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
  const hold = (id: string): Float64Array => {
    const found = facts.drive.channels.get(id)
    return found ? held(found.timeS, found.values, timeS) : new Float64Array(timeS.length).fill(Number.NaN)
  }
  const motor = facts.drive.channels.get('motor_speed')
  const rpm = motor ? linearAt(motor, timeS, STALE_S) : new Float64Array(timeS.length).fill(Number.NaN)
  const speed = drivenSpeed(facts)
  const backwards = motor ? motor.values.filter((value) => value < -60).length > 5 : false
  return {
    timeS,
    percent: held(pedal.timeS, pedal.percent, timeS),
    restPercent: pedal.restPercent,
    noisePercent: pedal.noisePercent,
    driveNm: nm.map((value, i) => (rpm[i]! < -20 ? -value : value)),
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

/**
 * Drive torque that counts against the released pedal, N·m (0 where none does): above what creep allows at walking
 * pace, and not the decay after release: for `idleReturnS` after the release torque that falls is the inverter letting
 * go. Source of 1 s: US FMVSS 124 (49 CFR 571.124) S5.3, from memory.
 */
export function torqueAfterRelease(
  data: PedalAndTorque,
  releasedPercent: number,
  creepNm: number,
  idleReturnS: number,
): Float64Array {
  const { timeS, driveNm, percent, kmh } = data
  const counted = new Float64Array(timeS.length)
  const idle = data.restPercent + releasedPercent
  let since = Number.NaN
  let lowest = Number.POSITIVE_INFINITY
  for (let i = 0; i < timeS.length; i++) {
    if (!(percent[i]! < idle)) {
      since = Number.isNaN(percent[i]!) ? since : Number.NaN
      lowest = Number.POSITIVE_INFINITY
      counted[i] = Number.isNaN(percent[i]!) ? Number.NaN : 0
      continue
    }
    if (Number.isNaN(since)) since = timeS[i]!
    const nm = driveNm[i]!
    // still falling: clearly below where it stood a moment ago
    const earlier = driveNm[Math.max(0, i - samplesIn(timeS, i, 0.15))]!
    const falling = nm < earlier - 0.05 * Math.abs(earlier)
    lowest = Math.min(lowest, nm)
    const decaying =
      timeS[i]! - since < idleReturnS && (falling || timeS[i]! - since < 0.15) && nm <= lowest + 2
    const allowed = kmh[i]! < CREEP_KMH ? creepNm : 0
    counted[i] = decaying ? 0 : Math.max(0, nm - allowed)
  }
  return counted
}

/** Creep ends at walking to jogging pace, km/h. Common practice, no source. */
const CREEP_KMH = 15

function samplesIn(timeS: Float64Array, i: number, seconds: number): number {
  let n = 0
  while (i - n > 0 && timeS[i]! - timeS[i - n]! < seconds) n++
  return n
}

/** Is the brake applied at each moment? By pressure or travel where logged, else by the switch; null where neither. */
export function brakeAppliedAt(facts: Facts, atS: Float64Array): Float64Array | null {
  const trace = facts.once(brakeTrace)
  if (!trace || trace.input === 'none') return null
  const firm = trace.input === 'pressure' ? Math.max(2, trace.begunAt) : trace.begunAt
  const on = trace.press.map((press) => (press > firm ? 1 : 0))
  return held(trace.timeS, on, atS)
}
