import type { Question, Start } from '../../../shared/review.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { type Facts, unlogged } from '../../facts/facts.ts'
import { median } from '../../math/stats.ts'
import { cameThrough } from '../models/start-failure.ts'
import { losses } from '../models/start-losses.ts'
import { startSignals } from '../models/start-signals.ts'
import { type JudgedAttempt, judgedAttempts } from '../models/start-verdicts.ts'
import { noDriveFindings, START_QUESTION } from './no-drive.ts'

/**
 * Which step of the start chain stopped the car?
 *
 * Model: each attempt is laid beside the chain of steps (`models/start-steps.ts`, changed by `start_steps` of the
 *   vehicle file); each step is judged held, failed or not to be seen; the first that failed is the first effect
 *   missing, or a condition it needs that was false by then.
 * Reads: any of key, plug, loops, contactors, link and pack voltage, states, brake, selector, pedal, drive ready,
 *   torque, speed. A switch without proved polarity is not read.
 *   An attempt needs intent: brake pressed or selector moved with the key on, a command, a contactor, precharge.
 * Gives: `starts[]`; `no-drive` [attempts]: stop where the last attempt failed, attention where a later one came
 *   through, or where the key alone was on and nothing ever came through.
 * Biased by: order of samples within one row spacing.
 * Blind: a condition that is not logged; the question says which; two changes inside one sample interval.
 * Source: the chain as conversions are built: common practice, no source; times of the car’s own good starts.
 */
export function startSteps(facts: Facts): Answer {
  const judged = facts.once(judgedAttempts)
  const starts: Start[] = judged.map((each) => ({
    span_s: [each.attempt.startS, each.attempt.endS],
    reached: each.reached,
    steps: each.steps.map(({ step, verdict }) => ({
      name: step.name,
      held: verdict.held,
      at_s: verdict.atS,
      why: `${verdict.why}${timing(each, step.name, judged)}`,
    })),
    first_failed: each.firstFailed,
    lost_s: facts.once(losses).findLast((loss) => loss.judged === each && !loss.recovered)?.atS ?? null,
  }))
  const findings = noDriveFindings(facts)
  return {
    questions: [question(facts, judged, findings.length > 0)],
    findings,
    sections: { starts },
  }
}

/** How long after the step before it, against the other attempts of the log: " (0.51 s after …, else 0.38 s)". */
function timing(each: JudgedAttempt, name: string, all: readonly JudgedAttempt[]): string {
  const since = sinceStepBefore(each, name)
  if (!since) return ''
  const others = all
    .filter((other) => other !== each)
    .map((other) => sinceStepBefore(other, name))
    .filter((other) => other?.before === since.before)
    .map((other) => other!.seconds)
  const usual = others.length > 0 ? `, in the other attempts ${median(others).toFixed(2)} s` : ''
  return ` (${since.seconds.toFixed(2)} s after ${since.label}${usual})`
}

/** The steps whose moments make the chain's pace. */
const PACED = ['key', 'negative', 'precharge', 'positive', 'inverter', 'ready', 'torque']

function sinceStepBefore(each: JudgedAttempt, name: string) {
  if (!PACED.includes(name)) return null
  const held = each.steps.filter(
    ({ step, verdict }) => PACED.includes(step.name) && verdict.held === true && verdict.atS !== null,
  )
  const at = held.findIndex(({ step }) => step.name === name)
  const [before, mine] = [held[at - 1], held[at]]
  if (!before || !mine) return null
  const seconds = mine.verdict.atS! - before.verdict.atS!
  return { before: before.step.name, label: before.step.label, seconds }
}

function question(facts: Facts, judged: readonly JudgedAttempt[], found: boolean): Question {
  const signals = facts.once(startSignals)
  const wanted = ['key_on', 'contactor_positive', 'link_voltage', 'drive_ready'] as const
  const missing = unlogged(facts, wanted)
  if (judged.length === 0) {
    const anything = missing.length < wanted.length
    return notAssessed(
      'start',
      START_QUESTION,
      missing,
      anything ? 'the log shows no attempt to start' : 'the log has no channel that shows a start',
      'Log from before the key is turned, with the key, contactors, link voltage and drive ready.',
    )
  }
  if (judged.every((each) => each.reached === 'unknown' || (!each.attempt.startSeen && !found)))
    return notAssessed(
      'start',
      START_QUESTION,
      missing,
      'start not seen: the log opens after it',
      'Begin the log before the key is turned.',
    )
  const came = judged.filter(cameThrough).length
  const keyOnly = judged.filter(({ attempt }) => attempt.asked === null).length
  const unseenSteps = [
    ...new Set(
      judged.flatMap((each) => each.steps.filter((s) => s.verdict.held === null).map((s) => s.step.name)),
    ),
  ]
  const slowest = Math.max(
    ...[signals.key, signals.positive, signals.interlock, signals.inertia, signals.ready].map((track) =>
      track && Number.isFinite(track.periodS) ? track.periodS : 0,
    ),
  )
  return assessed(
    'start',
    START_QUESTION,
    found,
    `${attemptsWords(judged.length - keyOnly)} seen, ${came} came through${
      keyOnly > 0 ? `; key on ${keyOnly === 1 ? 'once' : `${keyOnly} times`} without a start asked for` : ''
    }${unseenSteps.length > 0 ? `; not to be seen in every attempt: ${unseenSteps.join(', ')}` : ''}`,
    { value: slowest > 0 ? slowest : null, unit: 's', chance: 0.9 },
  )
}

const attemptsWords = (n: number): string => `${n} attempt${n === 1 ? '' : 's'}`
