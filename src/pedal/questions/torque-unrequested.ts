import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { LOCAL_RULES } from '../../facts/cautions.ts'
import { type Facts, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { STOP_USE } from '../models/pedal-advice.ts'
import { BEYOND_NM, BEYOND_S, BEYOND_SHARE, unrequestedTorque } from '../models/unrequested-torque.ts'

const QUESTION = 'Does the motor give torque that nobody requested?'

/**
 * Does the motor give torque beyond what was asked of the inverter?
 *
 * Model:  see `unrequestedTorque`: torque beyond its request by over 10 N·m and 20 % for longer than 0.3 s, lag and slew
 *         taken out, or of the other sign at over 10 N·m. Cruise control, creep and hold pass through the request.
 * Reads:  torque, torque_request [N·m].
 * Gives:  `torque-unrequested` [N·m beyond the request], always stop.
 * Biased by: a torque estimate that reads wrong; its tolerance enters the interval.
 * Blind:  a request that is wrong itself; braking torque where the request never asks for any.
 * Source: the contract's rule; figures common practice, no source.
 */
export function torqueUnrequested(facts: Facts): Answer {
  const judged = facts.once(unrequestedTorque)
  if ('why' in judged) {
    const missing = unlogged(facts, ['torque', 'torque_request'])
    return {
      questions: [
        notAssessed(
          'pedal',
          QUESTION,
          missing,
          judged.why,
          'log the torque request and the torque at 20 Hz',
          'N·m',
        ),
      ],
      findings: [],
    }
  }
  const { held, timeS, nm, requestNm, lagS, brakingAsked, run } = judged
  const found = held !== null && held.value > 0
  const side = brakingAsked ? '' : '; the request never asks for braking, so braking torque is not judged'
  const rule = `${BEYOND_NM} N\u00b7m and ${BEYOND_SHARE * 100} % for more than ${BEYOND_S} s`
  const question = assessed(
    'pedal',
    QUESTION,
    found,
    `torque stayed ${found ? 'not ' : ''}within its request, ${lagS.toFixed(2)} s of lag and the inverter\u2019s slew allowed for${side}`,
    { value: BEYOND_NM * (1 + judged.errorPercent / 100), unit: 'N\u00b7m' },
  )
  if (!found) return { questions: [question], findings: [] }
  const [first, last] = run ?? [held.first, held.last]
  const at = held.first
  const asked = requestNm[at]!
  return {
    questions: [question],
    findings: [
      finding({
        kind: 'torque-unrequested',
        subject: { type: 'unit', name: 'inverter' },
        span_s: [timeS[first]!, timeS[last]!],
        value: held.value,
        unit: 'N\u00b7m',
        plusMinus: (Math.abs(nm[at]!) * judged.errorPercent) / 100,
        limit: { attention: null, stop: BEYOND_NM, unit: 'N\u00b7m', source: 'common practice, no source' },
        severity: 'stop',
        headline: `The motor gives ${held.value.toFixed(0)} N\u00b7m that was not requested`,
        reason: `From ${timeS[first]!.toFixed(1)} s on, for ${(timeS[last]! - timeS[first]!).toFixed(1)} s, torque went beyond its request: ${nm[at]!.toFixed(0)} N\u00b7m where ${Number.isFinite(asked) ? asked.toFixed(0) : 'unknown'} N\u00b7m was asked. The limit is ${rule}; ${lagS.toFixed(2)} s of lag and torque on its way back are not counted.`,
        next_step: STOP_USE,
        cautions: [LOCAL_RULES],
        channels: ['torque', 'torque_request'],
      }),
    ],
  }
}
