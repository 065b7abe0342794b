import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { LOCAL_RULES } from '../../facts/cautions.ts'
import { type Facts, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { stopLamp } from '../models/stop-lamp.ts'

const QUESTION = 'Does the brake lamp light when lift-off regeneration slows the car?'
const SOURCE = 'UN R13-H 5.2.22.4 (not up to 0.7 m/s², must from 1.3 m/s²)'

/**
 * Does the stop lamp follow regeneration on release of the accelerator?
 *
 * Model:  see `stopLamp`; accused only where the whole interval of the deceleration is outside the optional band.
 * Reads:  brake_lamp (0/1, polarity proved), speed [km/h], torque [N·m], accelerator [%], brake input, gradient [%].
 * Gives:  `lamp-disagrees` [s] of the lamp `brake`.
 * Biased by: slope, which reads as deceleration where no gradient is logged (in the interval).
 * Blind:  the bulb; slopes over 5 % where the gradient is not logged. Braking by the pedal is another question (lamps).
 * Source: UN R13-H 5.2.22.4.
 */
export function stopLampAnalysis(facts: Facts): Answer {
  const lamp = facts.once(stopLamp)
  if (!lamp || lamp.comparedS < 1) {
    const missing = unlogged(facts, ['brake_lamp', 'speed', 'torque'])
    const why =
      missing.length > 0
        ? `not logged: ${missing.join(', ')}`
        : 'the car was hardly slowed by regeneration with both pedals free'
    const toAssess = missing.length > 0 ? `Log ${missing.join(' and ')}.` : null
    return { questions: [notAssessed('brake', QUESTION, missing, why, toAssess, 's')], findings: [] }
  }
  const worst = lamp.dark ?? lamp.lit
  const from = worst ? lamp.timeS[worst.first]! : 0
  const to = worst ? lamp.timeS[worst.last]! : 0
  return {
    questions: [
      assessed(
        'brake',
        QUESTION,
        worst !== null,
        `${lamp.comparedS.toFixed(0)} s of regeneration with both pedals free, hardest ${lamp.hardestMs2.toFixed(1)} ± ${lamp.plusMinusMs2.toFixed(1)} m/s²`,
        { value: 1.3 + lamp.plusMinusMs2, unit: 'm/s²' },
      ),
    ],
    findings: worst
      ? [
          finding({
            kind: 'lamp-disagrees',
            subject: { type: 'lamp', name: 'brake' },
            span_s: [from, to],
            value: worst.atLeastS,
            unit: 's',
            low: worst.atLeastS,
            high: worst.atMostS,
            limit: { attention: 0.5, stop: null, unit: 's', source: SOURCE },
            headline: lamp.dark
              ? `The brake lamp stays dark for ${worst.atLeastS.toFixed(1)} s while regeneration slows the car by more than 1.3 m/s²`
              : `The brake lamp is lit for ${worst.atLeastS.toFixed(1)} s while regeneration slows the car by less than 0.7 m/s²`,
            reason: `With both pedals free the deceleration lay ${lamp.dark ? 'above 1.3' : 'below 0.7'} m/s² with its whole interval of ± ${lamp.plusMinusMs2.toFixed(1)} m/s².`,
            next_step:
              'Check what switches the lamp under regeneration, and its threshold in the controller.',
            cautions: [LOCAL_RULES],
            channels: ['brake_lamp', 'speed', 'torque'],
          }),
        ]
      : [],
  }
}
