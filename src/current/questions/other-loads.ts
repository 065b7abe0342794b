import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { type Facts, unlogged } from '../../facts/facts.ts'
import { otherLoads } from '../models/other-loads.ts'

const QUESTION = 'What do heater, cooler, converter and other loads take beside the drive?'

/**
 * What power does traction not explain, split by what meters and switches it, and what share of consumption is it?
 *
 * Model:  `otherLoads`.
 * Reads:  pack current and voltage, speed, torque [N·m], contactors; heater_power, cooler_power [W], heater_current,
 *         dcdc_current [A], lv_voltage [V]; coolant_pump, pump_duty, fan_duty, requests of heater and cooler.
 * Gives:  figures in the question's words; no finding: no limit holds for every car.
 * Biased by: the current's zero (in the interval).
 * Blind:  loads that run only while driving; without a standstill nothing is told.
 * Source: definition of power.
 */
export function otherLoadsFigure(facts: Facts): Answer {
  const found = facts.once(otherLoads)
  if (!found) {
    const missing = unlogged(facts, ['pack_current', 'pack_voltage', 'speed'])
    const why =
      missing.length > 0
        ? `not in the log: ${missing.join(', ')}`
        : 'the car did not stand for five seconds with contactors closed, no torque and nothing put in'
    const to =
      missing.length > 0 ? `Log ${missing.join(', ')}.` : 'Log half a minute standing, ready, in neutral.'
    return { questions: [notAssessed('energy', QUESTION, missing, why, to, 'W')], findings: [] }
  }
  const { standingW, plusMinusW, standingS, metered, restW, restShare, switched } = found
  const percent = (share: number): string => `${(100 * share).toFixed(1)} %`
  const watts = (value: number): string => `${value.toFixed(0)} W`
  const parts = metered
    .filter((each) => Number.isFinite(each.standingW))
    .map(
      (each) => `${each.name} ${watts(each.standingW)} (${percent(each.share)} of the energy over the drive)`,
    )
  const why = [
    `Standing for ${standingS.toFixed(0)} s the car took ${watts(standingW)} ± ${watts(plusMinusW)}.`,
    parts.length > 0 ? `Of that ${parts.join(', ')}.` : '',
    `Without a meter of its own, the idling inverter with it: ${watts(restW)}, ${percent(restShare)} of the energy if it runs all the time.`,
    ...switched.map(
      (each) =>
        `Switched by the ${each.name}: ${watts(each.watts)} ± ${watts(each.plusMinusW)}, ${each.times} times.`,
    ),
  ]
  return {
    questions: [
      assessed('energy', QUESTION, false, why.filter(Boolean).join(' '), {
        value: plusMinusW,
        unit: 'W',
        measured: standingW,
      }),
    ],
    findings: [],
  }
}
