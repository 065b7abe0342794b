import { brakeTrace } from '../../car/brake-trace.ts'
import type { Facts } from '../../facts/facts.ts'
import { FEWEST_FOR_MEDIAN } from '../../math/fewest.ts'
import { median, robustSpread } from '../../math/stats.ts'
import { indexAt } from '../../samples/on-one-clock.ts'

/** The pressure at which the brake switch makes. */
export interface SwitchPressure {
  readonly bar: number
  readonly plusMinus: number
  readonly times: number
}

/**
 * Median pressure where the switch goes from off to on. The switch was last seen off one of its own samples earlier,
 * so the pressure in the middle of that stretch is taken and its half is in the interval.
 * Gives null without pressure or switch, or under three presses.
 */
export function brakeSwitchPressure(facts: Facts): SwitchPressure | null {
  const trace = facts.once(brakeTrace)
  const contact = facts.drive.channels.get('brake_switch')
  if (trace?.input !== 'pressure' || !contact || contact.polarity === null) return null
  const at: number[] = []
  const half: number[] = []
  for (let i = 1; i < contact.timeS.length; i++) {
    if (contact.values[i] !== 1 || contact.values[i - 1] !== 0) continue
    if (contact.timeS[i]! - contact.timeS[i - 1]! > 1) continue
    const after = trace.press[Math.max(0, indexAt(trace.timeS, contact.timeS[i]!))]!
    const before = trace.press[Math.max(0, indexAt(trace.timeS, contact.timeS[i - 1]!))]!
    at.push((before + after) / 2)
    half.push(Math.abs(after - before) / 2)
  }
  if (at.length < FEWEST_FOR_MEDIAN) return null
  return {
    bar: Math.max(0, median(at)),
    plusMinus: Math.hypot((1.96 * robustSpread(at)) / Math.sqrt(at.length), median(half)),
    times: at.length,
  }
}
