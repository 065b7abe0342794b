import { fieldsInWords } from '../../../shared/vehicle-words.ts'
import { brakeTrace } from '../../car/brake-trace.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { BRAKE_CHANGE } from '../../facts/cautions.ts'
import { standing } from '../../facts/drive-advice.ts'
import type { Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { type LockMargin, lockMargin } from '../models/lock-margin.ts'

const QUESTION = 'How much grip does regeneration alone need of the driven axle?'

/**
 * Could today’s regeneration lock the driven axle by itself?
 *
 * Model:  see `lockMargin`: need of grip = force / load of the driven axle, at every press and speed that was shown.
 * Reads:  the map of slowing torque [N·m], vehicle file: masses, front share, wheelbase, driven axle.
 * Gives:  `regen-lock-margin` [least grip] for a rear axle over 0.25; the figure for either axle in the answer.
 * Biased by: the height of the centre of gravity, assumed at its worse end; rotating masses, which relieve the tyre.
 * Blind:  friction, slope, side forces in a bend, tyres unlike each other.
 * Source: statics; limit: common practice, no source.
 */
export function regenLock(facts: Facts): Answer {
  const found = facts.once(lockMargin)
  if (!found?.grip) return unseen(found)
  const limit = facts.limits.lockGrip
  const { grip, axle } = found
  const at = grip.bound === 'exact' ? '' : 'at least '
  const lift =
    found.liftGrip === null ? '' : `; with no foot on the brake, as in a bend, ${found.liftGrip.toFixed(2)}`
  const why = `the ${axle} axle needs a grip of ${at}${grip.value.toFixed(2)} under regeneration alone (${found.atNm.toFixed(0)} N·m at ${found.atPress.toFixed(0)} bar; ${found.worst})${lift}`
  const past = axle === 'rear' && grip.value > (limit.attention ?? Number.POSITIVE_INFINITY)
  return {
    questions: [
      assessed('brake', QUESTION, past, why, {
        value: axle === 'rear' ? limit.attention : null,
        unit: axle === 'rear' ? 'grip' : '',
      }),
    ],
    findings: past ? [margin(facts, found)] : [],
  }
}

function unseen(found: LockMargin | null): Answer {
  const fields = found?.missing ?? []
  const why =
    fields.length > 0
      ? `the vehicle file lacks ${fieldsInWords(fields)}`
      : 'no regeneration map could be read from this drive'
  const todo = standing(
    'Weigh the car on four scales (front axle over all four: the front share) and measure the wheelbase with a tape; enter both, the driven axle and the mass in the vehicle file.',
  )
  return {
    questions: [notAssessed('brake', QUESTION, [], why, fields.length > 0 ? todo : null, 'grip')],
    findings: [],
  }
}

function margin(facts: Facts, found: LockMargin) {
  const trace = facts.once(brakeTrace)!
  const grip = found.grip!
  const first = trace.applications[0]!
  const last = trace.applications[trace.applications.length - 1]!
  const least = grip.bound === 'exact' ? '' : 'at least '
  const lift =
    found.liftGrip === null
      ? ''
      : ` With no foot on the brake, as in a bend, lift-off alone needs ${found.liftGrip.toFixed(2)}.`
  return finding({
    kind: 'regen-lock-margin',
    question: QUESTION,
    subject: { type: 'axle', name: found.axle! },
    span_s: [first[0], last[1]],
    value: grip.value,
    unit: 'grip',
    plusMinus: grip.plusMinus,
    bound: grip.bound,
    limit: facts.limits.lockGrip,
    headline: `Regeneration alone needs a grip of ${least}${grip.value.toFixed(2)} of the rear axle`,
    reason: `At ${found.atNm.toFixed(0)} N·m (${found.atPress.toFixed(0)} bar, ${found.atKmh.toFixed(0)} km/h) the driven rear axle holds only where the road gives at least ${grip.value.toFixed(2)}; a grip of 0.2 is packed snow or wet leaves, 0.4 a wet poor road. Friction comes on top.${lift} Worst case: ${found.worst}.${found.assumed.length > 0 ? ` Assumed: ${found.assumed.join('; ')}.` : ''}`,
    next_step:
      'Lower the most of the map, or let it reach its most at firmer presses, until the need is within the limit; check the front share with four scales and the wheelbase with a tape.',
    cautions: [BRAKE_CHANGE],
    channels: trace.channels,
  })
}
