import type { ChannelId } from '../../../shared/channels.ts'
import type { Finding, Question } from '../../../shared/review.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { SELF_HEATING } from '../../facts/cautions.ts'
import type { Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { type ModuleTemperatures, moduleTemperatures } from '../models/module-temperatures.ts'
import { type LoneRise, type SelfWarming, selfWarming } from '../models/self-warming.ts'

const QUESTION = 'Does any module warm by itself, without current?'

/**
 * Does any module warm by itself, without current?
 *
 * Model:  `models/self-warming.ts`: the rise over three minutes with hardly any current, against its cooling group.
 * Reads:  module_temperature.* [°C], pack_current [A], cell voltages [V] as a second witness.
 * Gives:  `self-heating` [°C/min], always `stop`.
 * Biased by: readings in coarse steps (the interval holds one step over the span).
 * Blind:  a module with one sensor whose cells do not fall; heat between sensors; the time after the log ends.
 * Source: limit by the project's contract (common practice, no source): over 1 K/min for 3 min under a twentieth of the
 * capacity in current; heat that soaks outwards after a hard drive reaches 1.1 K/min and falls from its first minute.
 */
export function selfHeating(facts: Facts): Answer {
  const grid = facts.once(moduleTemperatures)
  const rests = facts.once(selfWarming)
  const missing: ChannelId[] = [
    ...(grid ? [] : (['module_temperature.1'] as const)),
    ...(rests || !grid ? [] : (['pack_current'] as const)),
  ]
  if (!grid || !rests)
    return {
      questions: [
        notAssessed(
          'heat',
          QUESTION,
          missing,
          grid ? 'no pack current is logged' : 'no module temperature is logged',
          'Log the module temperatures and the pack current, and let the log run on for ten minutes after key-off.',
        ),
      ],
      findings: [],
    }
  if (rests.seconds === 0)
    return {
      questions: [
        notAssessed(
          'heat',
          QUESTION,
          [],
          `No three minutes of this log stay under ${rests.limitA.toFixed(1)} A.`,
          'Let the log run on for ten minutes after key-off.',
          '°C/min',
        ),
      ],
      findings: [],
    }
  const findings = rests.found.map((each) => warmsAlone(facts, grid, each, rests.limitA))
  if (rests.alone) return { questions: [unproved(rests.alone)], findings }
  return {
    questions: [
      assessed(
        'heat',
        QUESTION,
        findings.length > 0,
        `${(rests.seconds / 60).toFixed(0)} min under ${rests.limitA.toFixed(1)} A.`,
        { value: facts.limits.selfHeating.stop, unit: '°C/min' },
      ),
    ],
    findings,
  }
}

/** One sensor alone is no witness: what it read is said, and what would prove it. */
function unproved({ sensor, kelvinMin }: LoneRise): Question {
  return notAssessed(
    'heat',
    QUESTION,
    [],
    `Sensor ${sensor} rose by ${kelvinMin.toFixed(1)} K a minute without current, its group did not; no second sensor and no falling cell bears it out.`,
    'Log a second temperature sensor of each module. Until then keep away from the pack while it warms.',
    '°C/min',
  )
}

function warmsAlone(facts: Facts, grid: ModuleTemperatures, each: SelfWarming, limitA: number): Finding {
  const place = grid.placedFrom
    ? `Module ${each.module}`
    : `The pack at temperature sensor ${each.sensors[0]}`
  const minutes = (each.span_s[1] - each.span_s[0]) / 60
  const others = Number.isFinite(each.groupKelvinMin)
    ? `; the rest of its group moved by ${each.groupKelvinMin.toFixed(1)} K a minute`
    : ''
  const seen =
    each.fallingCell === null
      ? `Sensors ${each.sensors.join(' and ')} rose together`
      : `Sensor ${each.sensors[0]} rose while cell ${each.fallingCell} fell beside its peers`
  return finding({
    kind: 'self-heating',
    subject: grid.placedFrom
      ? { type: 'module', index: each.module }
      : { type: 'temperature-sensor', index: each.sensors[0]! },
    span_s: each.span_s,
    value: each.kelvinMin,
    unit: '°C/min',
    plusMinus: each.plusMinus,
    limit: facts.limits.selfHeating,
    severity: 'stop',
    headline: `${place} warms by itself: ${each.kelvinMin.toFixed(1)} K a minute without current${each.toTheEnd ? ', still rising when the log ends' : ''}.`,
    reason: `${seen} for ${minutes.toFixed(0)} min with under ${limitA.toFixed(1)} A${others}. Heat left from driving dies away from its first minute; this did not.`,
    next_step: SELF_HEATING,
    cautions: [],
    channels: [...each.sensors.map((sensor) => `module_temperature.${sensor}`), 'pack_current'],
  })
}
