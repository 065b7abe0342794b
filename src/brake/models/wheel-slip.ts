import { gearing } from '../../car/gearing.ts'
import { motorTorque } from '../../car/regen-torque.ts'
import type { Facts } from '../../facts/facts.ts'
import { runsAbove } from '../../math/held-runs.ts'
import { median, quantile } from '../../math/stats.ts'
import { linearAt, samplePeriod } from '../../samples/on-one-clock.ts'

/** Fewer rows tell no usual ratio of motor to road; no source. */
const FEWEST_ROWS = 50

export interface WheelSlip {
  readonly comparedWith: string
  readonly comparedS: number
  /** Largest slip held longer than `HELD_S` under torque, percent of the free speed; and where. */
  readonly slipPercent: number
  readonly plusMinusPercent: number
  readonly fromS: number
  readonly toS: number
  readonly driving: boolean
  /** Slip or anti-lock control was at work. */
  readonly controlActive: boolean
  readonly channels: readonly string[]
}

/** Shorter slip is a bump. Slower logs cannot see it. Common practice, no source. */
const HELD_S = 0.25
const SLOWEST_S = 0.21
const LEAST_KMH = 10
const LEAST_NM = 10

/** Was slip or anti-lock control at work at any moment? null where neither is logged. */
export function slipControl(facts: Facts): boolean | null {
  const logged = (['traction_active', 'abs_active'] as const).flatMap(
    (id) => facts.drive.channels.get(id) ?? [],
  )
  return logged.length === 0 ? null : logged.some((each) => each.polarity !== null && each.values.includes(1))
}

/**
 * Model: slip = (driven speed − free speed) / free speed, the driven speed from the motor (or the driven axle's wheels),
 * the free one from the other axle's wheels or a speed that does not come from the motor; their ratio calibrated as the
 * median at little torque (of a gearbox gear by gear, its changes left out). Held over 0.25 s above 10 km/h under
 * more than 10 N·m.
 * Gives null where the log has only one of the two, or is slower than 5 Hz.
 */
export function wheelSlip(facts: Facts): WheelSlip | null {
  const { channels } = facts.drive
  const torque = facts.once(motorTorque)
  const motor = channels.get('motor_speed')
  const from = facts.vehicle.car?.speed_from
  const wheels = [1, 2, 3, 4].map((n) => channels.get(`wheel_speed.${n}`))
  const axle = facts.vehicle.car?.driven_axle?.toLowerCase() ?? ''
  const front = /front/.test(axle)
  const known = /front|rear/.test(axle)
  const [left, right] = known
    ? front
      ? [wheels[2], wheels[3]]
      : [wheels[0], wheels[1]]
    : [undefined, undefined]
  const speed = channels.get('speed')
  const free = left && right ? left : from === 'wheel' || from === 'position' ? speed : undefined
  if (!torque || !motor || !free) return null
  if (samplePeriod(motor.timeS) > SLOWEST_S || samplePeriod(free.timeS) > SLOWEST_S) return null
  const { timeS } = free
  const kmh = free.values.map((value, i) =>
    right && free === left ? (value + (right.values[i] ?? value)) / 2 : value,
  )
  const rpm = linearAt(motor, timeS, 1).map(Math.abs)
  const nm = linearAt({ ...motor, timeS: torque.timeS, values: torque.nm }, timeS, 1)
  // of a gearbox every gear has its own ratio, and none while it changes
  const geared = facts.once(gearing)?.perKmhAt(timeS)
  if (geared) for (let i = 0; i < timeS.length; i++) rpm[i] = rpm[i]! / geared[i]!
  const usable = (i: number): boolean => kmh[i]! > LEAST_KMH && Number.isFinite(rpm[i]! + nm[i]!)
  const calm: number[] = []
  const all: number[] = []
  for (let i = 0; i < timeS.length; i++) {
    if (!usable(i)) continue
    all.push(rpm[i]! / kmh[i]!)
    if (Math.abs(nm[i]!) < LEAST_NM) calm.push(rpm[i]! / kmh[i]!)
  }
  if (all.length < FEWEST_ROWS) return null
  const ratio = median(calm.length > FEWEST_ROWS ? calm : all)
  const spreadNow = all.map((each) => Math.abs(each / ratio - 1) * 100)
  if (quantile(spreadNow, 0.999) < 1e-6) return null // the speed is worked out from the motor
  const slip = timeS.map((_, i) =>
    usable(i) && Math.abs(nm[i]!) > LEAST_NM
      ? Math.max(0, Math.sign(nm[i]!) * (rpm[i]! / kmh[i]! / ratio - 1) * 100)
      : 0,
  )
  const noise = quantile(spreadNow, 0.95)
  const bar = 2
  let worst: { percent: number; first: number; last: number } | null = null
  for (const run of runsAbove(timeS, slip, bar)) {
    if (run.atLeastS < HELD_S) continue
    const typical = median(slip.subarray(run.first, run.last + 1))
    if (!worst || typical > worst.percent) worst = { percent: typical, first: run.first, last: run.last }
  }
  const control = slipControl(facts)
  return {
    comparedWith: free.id,
    comparedS: all.length * samplePeriod(timeS),
    slipPercent: worst?.percent ?? 0,
    plusMinusPercent: Math.max(1, noise),
    fromS: timeS[worst?.first ?? 0]!,
    toS: timeS[worst?.last ?? 0]!,
    driving: worst ? nm[worst.first]! > 0 : false,
    controlActive: control === true,
    channels: [motor.id, free.id, ...torque.channels],
  }
}
