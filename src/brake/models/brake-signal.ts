import type { Span } from '../../../shared/units.ts'
import { type BrakeTrace, brakeTrace } from '../../car/brake-trace.ts'
import { accelerator, acceleratorAt } from '../../car/pedal-travel.ts'
import { drivenSpeed } from '../../car/regen-torque.ts'
import { UNDER_WAY_KMH } from '../../drive/motion.ts'
import type { Facts } from '../../facts/facts.ts'
import { slidingSlope } from '../../math/sliding-line.ts'
import { heldAt, linearAt, writtenOnChange } from '../../samples/on-one-clock.ts'

/** Fewer speed readings in a silence do not show that the car moved; no source. */
const FEWEST_MOVING = 3

export interface MissingBrakeSignal {
  /** Stretches in which the car braked by its switch and its deceleration, but the pressure stayed at zero. */
  readonly silent: readonly Span[]
  /** Stretches without any reading while the car moved and its speed was logged. */
  readonly gaps: readonly Span[]
  readonly missingS: number
  /** Time in which the switch was on and the car slowed: what the comparison rests on, s. */
  readonly comparedS: number
}

/** Surely braking, and braking gently or coasting with much lift-off regeneration, m/s². Common practice, no source. */
const BRAKING_MS2 = 1.2
const GENTLE_MS2 = 0.5
/** So long must a gentle one be silent to count, s. */
const GENTLE_LEAST_S = 1.5
/** A safety signal must not stay away for longer: Formula Student rules T11.9.4, s. */
export const SIGNAL_TIMEOUT_S = 0.5
const SILENT_LEAST_S = 0.3

/**
 * Was the brake pressure there when the car braked? Silent: brake switch on, accelerator at rest, deceleration over
 * 1.2 m/s² (or over 0.5 m/s² for 1.5 s), pressure not above where a press begins. Gaps: no reading for over 500 ms
 * while the car moves.
 * Gives null without a pressure or travel, or speed.
 */
export function missingBrakeSignal(facts: Facts): MissingBrakeSignal | null {
  const trace = facts.once(brakeTrace)
  const speed = facts.once(drivenSpeed)
  if (!trace || !speed || (trace.input !== 'pressure' && trace.input !== 'travel')) return null
  const { timeS, press } = trace
  const contact = facts.drive.channels.get('brake_switch')
  const on = contact && contact.polarity !== null ? heldAt(contact, timeS, 2) : null
  const pedal = facts.once(accelerator)
  const percent = pedal ? acceleratorAt(pedal, timeS) : null
  const slope = linearAt({ ...speed, values: slidingSlope(speed.timeS, speed.values, 0.4) }, timeS, 2)
  const silent: [number, number][] = []
  const hard: boolean[] = []
  let comparedS = 0
  for (let i = 1; i < timeS.length; i++) {
    const braking =
      on !== null &&
      on[i] === 1 &&
      trace.kmh[i]! > UNDER_WAY_KMH &&
      -slope[i]! / 3.6 > GENTLE_MS2 &&
      !(percent && pedal && percent[i]! > pedal.restPercent + 3)
    if (!braking) continue
    comparedS += Math.min(timeS[i]! - timeS[i - 1]!, 1)
    if (press[i]! > trace.begunAt) continue
    const open = silent[silent.length - 1]
    if (open && timeS[i]! - open[1] < 0.3 + trace.periodS) open[1] = timeS[i]!
    else {
      silent.push([timeS[i]!, timeS[i]!])
      hard.push(false)
    }
    if (-slope[i]! / 3.6 > BRAKING_MS2) hard[hard.length - 1] = true
  }
  const long = silent.filter(([from, to], k) => to - from > (hard[k] ? SILENT_LEAST_S : GENTLE_LEAST_S))
  // written only when it changes: what it does not say has not changed
  const gaps = writtenOnChange({ timeS, values: press })
    ? []
    : gapsWhileMoving(trace.timeS, press, trace.periodS, speed.timeS, speed.values).filter(
        (gap) => !onlyStill(facts, trace, gap),
      )
  return {
    silent: long,
    gaps,
    missingS: [...long, ...gaps].reduce((sum, [from, to]) => sum + to - from, 0),
    comparedS,
  }
}

/** A pressed pedal under a foot, in rounded readings, stands still no longer, s. Common practice, no source. */
const STILL_S = 2

/** Rows went on repeating the reading: a quiet sensor of a free brake, rounded, stands still by itself, and so does a foot. */
function onlyStill(facts: Facts, trace: BrakeTrace, [fromS, toS]: Span): boolean {
  const at = trace.timeS.findLastIndex((timeS, i) => timeS <= fromS && Number.isFinite(trace.press[i]))
  if (at < 0 || (trace.press[at]! > trace.begunAt && toS - fromS > STILL_S)) return false
  const signal = facts.drive.channels.get(trace.input === 'travel' ? 'brake_travel' : 'brake_pressure')
  if (!signal?.fresh) return false
  let last = fromS
  for (let i = 0; i < signal.timeS.length && last < toS; i++) {
    const timeS = signal.timeS[i]!
    if (timeS <= fromS || !Number.isFinite(signal.values[i])) continue
    if (timeS - last > SIGNAL_TIMEOUT_S) return false
    last = timeS
  }
  return last >= toS
}

/** Stretches without a believable reading, longer than the time-out and three usual periods, while speed went on. */
function gapsWhileMoving(
  timeS: Float64Array,
  press: Float64Array,
  periodS: number,
  speedS: Float64Array,
  kmh: Float64Array,
): Span[] {
  const gaps: Span[] = []
  let last = -1
  let at = 0
  const longest = Math.max(SIGNAL_TIMEOUT_S, 3 * periodS)
  for (let i = 0; i < timeS.length; i++) {
    if (!Number.isFinite(press[i])) continue
    if (last >= 0 && timeS[i]! - timeS[last]! > longest) {
      const from = timeS[last]!
      while (at < speedS.length && speedS[at]! < from) at++
      let moving = 0
      for (let k = at; k < speedS.length && speedS[k]! < timeS[i]!; k++) if (kmh[k]! > UNDER_WAY_KMH) moving++
      if (moving >= FEWEST_MOVING) gaps.push([from, timeS[i]!])
    }
    last = i
  }
  return gaps
}
