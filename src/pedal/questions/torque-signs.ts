import { torqueSigns } from '../../car/torque-signs.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { LOCAL_RULES } from '../../facts/cautions.ts'
import { type Facts, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { STOP_USE } from '../models/pedal-advice.ts'

const QUESTION = 'Do torque and its request have the same sign?'

/**
 * Do torque and its request run the same way round?
 *
 * Model:  see `torqueSigns`: a correlation under −0.9 at no lag; battery power and acceleration say whether torque is
 *         logged the right way round, the accelerator then whether the request is.
 * Reads:  torque, torque_request [N·m], battery power [W], speed [km/h], accelerator [%].
 * Gives:  `signs-differ` [correlation]: a note where the log's sign of one is turned (it is then judged turned), attention
 *         where nothing decides; `torque-unrequested` (stop) where the motor itself acts against its request.
 * Biased by: a drive with little regeneration, where few moments show the sign.
 * Blind:  a sign turned for a part of the drive only.
 * Source: common practice, no source.
 */
export function torqueSignsAgree(facts: Facts): Answer {
  const missing = unlogged(facts, ['torque', 'torque_request'])
  if (missing.length > 0)
    return {
      questions: [
        notAssessed(
          'pedal',
          QUESTION,
          missing,
          `not logged: ${missing.join(', ')}`,
          'log the torque request',
        ),
      ],
      findings: [],
    }
  const signs = facts.once(torqueSigns)
  if (!signs)
    return { questions: [assessed('pedal', QUESTION, false, 'they do not run opposite')], findings: [] }
  const { turned, r, why } = signs
  const span: [number, number] = [0, facts.drive.durationS]
  if (turned === 'motor')
    return {
      questions: [assessed('pedal', QUESTION, false, `the motor itself acts against its request (${why})`)],
      findings: [],
    }
  const name = turned === 'torque_request' ? 'torque request' : 'torque'
  return {
    questions: [assessed('pedal', QUESTION, true, `correlation ${r.toFixed(3)} at no lag; ${why}`)],
    findings: [
      finding({
        kind: 'signs-differ',
        subject: { type: 'channel', name: turned ?? 'torque' },
        span_s: span,
        value: r,
        unit: '',
        limit: null,
        severity: turned === null ? 'attention' : 'note',
        headline:
          turned === null
            ? 'Torque and its request have opposite signs, and the log does not tell which is right'
            : `The log writes the ${name} with its sign turned`,
        reason:
          turned === null
            ? `Their correlation is ${r.toFixed(3)} at no lag. Either the log turns the sign of one, or the motor acts against what is asked of it (${why}).`
            : `Torque and request correlate with ${r.toFixed(3)} at no lag; battery power and acceleration show that the ${name} is the one turned (${why}). It is judged with its sign turned.`,
        next_step:
          turned === null
            ? `${STOP_USE} Compare the signs of torque, request and battery current then.`
            : `Put the sign of the ${name} right in the signal table.`,
        cautions: [LOCAL_RULES],
        channels: ['torque', 'torque_request'],
      }),
    ],
  }
}
