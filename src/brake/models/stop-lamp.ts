import { brakeSwitchAt, brakeTrace } from '../../car/brake-trace.ts'
import { drivenSpeed } from '../../car/regen-torque.ts'
import { UNDER_WAY_KMH } from '../../drive/motion.ts'
import type { Facts } from '../../facts/facts.ts'
import { type HeldRun, runsAbove } from '../../math/held-runs.ts'
import { slidingLine } from '../../math/sliding-line.ts'
import { heldAt, linearAt, samplePeriod } from '../../samples/on-one-clock.ts'

/** More than a motor's drag, N·m; no source. */
const REGENERATES_NM = 3

/** Deceleration at which regeneration on release of the accelerator must not, may, and must light the lamp, m/s². */
const LAMP_NOT_BELOW_MS2 = 0.7
const LAMP_FROM_MS2 = 1.3

/** What the regulation asks of the lamp at a deceleration by regeneration alone: UN R13-H 5.2.22.4. */
export function lampDuty(decelerationMs2: number): 'must-not' | 'may' | 'must' {
  if (decelerationMs2 > LAMP_FROM_MS2) return 'must'
  return decelerationMs2 > LAMP_NOT_BELOW_MS2 ? 'may' : 'must-not'
}

export interface StopLamp {
  /** Time with regeneration on a released accelerator and a free brake, s. */
  readonly comparedS: number
  readonly hardestMs2: number
  readonly plusMinusMs2: number
  /** Dark though the whole interval asks for it; lit though the whole interval forbids it. */
  readonly dark: HeldRun | null
  readonly lit: HeldRun | null
  readonly timeS: Float64Array
}

/** A slope of 5 % adds 0.49 m/s²: not known unless the gradient is logged. */
const SLOPE_MS2 = 0.49
const READING_MS2 = 0.15
const HELD_S = 0.5

/**
 * The lamp against the regulation, on moments with the accelerator at rest, the brake free and the motor regenerating.
 * Deceleration from the speed's slope over ±0.4 s, ± 0.15 m/s² for the reading and ± 0.49 m/s² for a slope that is not
 * logged. Accused only where the whole interval lies outside 0.7 … 1.3 m/s² for longer than half a second.
 * Gives null without lamp (polarity known), speed, torque or a brake signal that shows the brake free.
 */
export function stopLamp(facts: Facts): StopLamp | null {
  const lamp = facts.drive.channels.get('brake_lamp')
  const trace = facts.once(brakeTrace)
  const speed = facts.once(drivenSpeed)
  if (!lamp || lamp.polarity === null || !trace || trace.input === 'none' || !speed) return null
  const gradient = facts.drive.channels.get('gradient')
  const plusMinusMs2 = Math.hypot(READING_MS2, gradient ? 0.1 : SLOPE_MS2)
  const slope = slidingLine(speed.timeS, speed.values, 0.4).slope
  const onTrace = linearAt({ ...speed, values: slope }, trace.timeS, 1)
  const grade = gradient ? heldAt(gradient, trace.timeS, 5) : null
  const lit = heldAt(lamp, trace.timeS, Math.max(1, 3 * samplePeriod(lamp.timeS)))
  const { timeS } = trace
  const contact = brakeSwitchAt(facts, timeS)
  const dark = new Float64Array(timeS.length)
  const needless = new Float64Array(timeS.length)
  let comparedS = 0
  let hardestMs2 = 0
  for (let i = 1; i < timeS.length; i++) {
    const lifting =
      trace.released[i] === 1 &&
      contact?.[i] !== 1 &&
      Math.abs(trace.press[i]!) < trace.begunAt / 2 &&
      trace.torqueNm[i]! < -REGENERATES_NM &&
      trace.kmh[i]! > UNDER_WAY_KMH
    if (!lifting) continue
    const uphill = grade ? (grade[i]! / 100) * 9.81 : 0
    const deceleration = -onTrace[i]! / 3.6 - uphill
    if (!Number.isFinite(deceleration)) continue
    comparedS += Math.min(1, timeS[i]! - timeS[i - 1]!)
    hardestMs2 = Math.max(hardestMs2, deceleration)
    if (lit[i] === 0 && lampDuty(deceleration - plusMinusMs2) === 'must') dark[i] = 1
    if (lit[i] === 1 && lampDuty(deceleration + plusMinusMs2) === 'must-not') needless[i] = 1
  }
  const longest = (marks: Float64Array): HeldRun | null =>
    runsAbove(timeS, marks, 0.5)
      .filter((run) => run.atLeastS > HELD_S)
      .reduce<HeldRun | null>((worst, run) => (!worst || run.atLeastS > worst.atLeastS ? run : worst), null)
  return { comparedS, hardestMs2, plusMinusMs2, dark: longest(dark), lit: longest(needless), timeS }
}
