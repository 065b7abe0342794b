import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { LOCAL_RULES } from '../../facts/cautions.ts'
import { type Facts, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { LAG_SLOWEST_S, pedalLag } from '../models/pedal-lag.ts'

const QUESTION = 'Does the torque follow the accelerator without delay?'
/** Delay that a driver cannot work with, s. Common practice, no source. */
const LAG_S = 0.5

/**
 * Does the torque lag?
 *
 * Model:  see `pedalLag`: the shift or lag at which the torque fits the request best, else follows the pedal best.
 * Reads:  torque, torque_request [N·m], accelerator [%].
 * Gives:  `torque-lag` [s] where the whole interval is past 0.5 s.
 * Biased by: rows slower than the lag; a request that is logged later than it is sent.
 * Blind:  logs slower than 5 Hz; a lag of the pedal's own electronics where the request is compared.
 * Source: limit: common practice, no source.
 */
export function torqueLag(facts: Facts): Answer {
  const lag = facts.once(pedalLag)
  if (!lag) {
    const missing = unlogged(facts, ['torque', 'torque_request'])
    return {
      questions: [
        notAssessed(
          'pedal',
          QUESTION,
          missing,
          missing.length > 0
            ? `not logged: ${missing.join(', ')}`
            : `torque and request are slower than ${(LAG_SLOWEST_S * 1000).toFixed(0)} ms, or hardly follow each other`,
          'log torque request and torque at 20 Hz or more',
          's',
        ),
      ],
      findings: [],
    }
  }
  const found = lag.lagS - lag.plusMinusS > LAG_S
  const against = lag.against === 'pedal' ? 'accelerator' : 'torque request'
  const figure = `${lag.lagS.toFixed(2)} ± ${lag.plusMinusS.toFixed(2)} s`
  return {
    questions: [
      assessed('pedal', QUESTION, found, `torque follows the ${against} after ${figure}`, {
        value: LAG_S + 2 * lag.plusMinusS,
        unit: 's',
      }),
    ],
    findings: found
      ? [
          finding({
            kind: 'torque-lag',
            subject: { type: 'pedal' },
            span_s: [0, facts.drive.durationS],
            value: lag.lagS,
            unit: 's',
            plusMinus: lag.plusMinusS,
            limit: { attention: LAG_S, stop: null, unit: 's', source: 'common practice, no source' },
            headline: `The torque follows the ${against} only after ${figure}`,
            reason: `Over the whole drive the torque\u2019s changes fit the ${against}\u2019s best ${figure} later.`,
            next_step:
              'Look for filters and ramps between pedal and inverter, and for a bus that is too busy.',
            cautions: [LOCAL_RULES],
            channels: ['torque', lag.against === 'pedal' ? 'pedal_position' : 'torque_request'],
          }),
        ]
      : [],
  }
}
