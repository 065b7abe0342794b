import type { Finding, Question, Start } from '../../../shared/review.ts'
import type { Span } from '../../../shared/units.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { DC_LINK } from '../../facts/cautions.ts'
import type { Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { median } from '../../math/stats.ts'
import { stepNamed } from '../models/start-chain-order.ts'
import { orderOfFall } from '../models/start-fall.ts'
import { losses } from '../models/start-losses.ts'
import { samplesIn, startSignals } from '../models/start-signals.ts'
import { type JudgedAttempt, judgedAttempts, startChain } from '../models/start-verdicts.ts'

/**
 * Which step of the start chain stopped the car?
 *
 * Method: each attempt is laid beside the chain of steps (`models/start-steps.ts`, changed by `start_steps` of the
 *   vehicle file); each step is judged held, failed or not to be seen; the first that failed is the first effect
 *   missing, or a condition it needs that was false by then.
 * Reads: any of key, plug, loops, contactors, link and pack voltage, states, brake, selector, pedal, drive ready,
 *   torque, speed. A switch without proved polarity is not read.
 * Gives: `starts[]`; `no-drive` [attempts] where the last attempt failed and none after it came through;
 *   `start-retried` [attempts], a note, where one did.
 * Blind: a condition that is not logged; the question says which; two changes inside one sample interval.
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
  const lost = noDrive(facts, judged)
  return {
    questions: [question(facts, judged, lost !== null)],
    findings: [...(lost ? [lost] : []), ...retried(facts, judged)],
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

const through = (each: JudgedAttempt): boolean =>
  each.firstFailed === null && (each.reached === 'ready' || each.reached === 'driving')

function noDrive(facts: Facts, judged: readonly JudgedAttempt[]): Finding | null {
  const lastGood = judged.findLastIndex(through)
  const failed = judged.slice(lastGood + 1).filter((each) => each.firstFailed !== null)
  const last = failed.at(-1)
  if (!last || judged.at(-1)?.firstFailed === null) return null
  const name = mostTelling(failed)
  const shown = failed.find((each) => each.firstFailed === name) ?? last
  const step = stepNamed(facts.once(startChain), name)
  const verdict = shown.steps.find((each) => each.step.name === name)?.verdict
  const span: Span = [failed[0]!.attempt.startS, last.attempt.endS]
  const label = step?.label ?? name
  const unseen = shown.unseenBefore
  const tried = failed.some(triedToDrive)
  const passed = shown.steps
    .slice(
      0,
      shown.steps.findIndex((each) => each.step.name === name),
    )
    .filter((each) => each.verdict.held === false)
    .map((each) => `${each.step.label}: ${each.verdict.why}`)
  const idle =
    name === 'brake' || (lastGood >= 0 && verdict?.selfExplained !== true && step?.role === 'effect')
  const meant = tried || !idle
  return finding({
    kind: 'no-drive',
    subject: { type: 'start-step', name },
    span_s: span,
    onset_s: failed[0]!.attempt.startS,
    value: failed.length,
    unit: 'attempts',
    plusMinus: 0,
    limit: null,
    severity: meant ? 'stop' : 'note',
    headline: `The car did not become able to drive: ${label} is the first step that failed`,
    reason: `${failed.length} ${failed.length === 1 ? 'attempt' : 'attempts'}; ${label}: ${verdict?.held === false ? verdict.why : fallWords(facts, shown)}.${
      unseen.length > 0
        ? ` Steps before it that this log cannot show, any of which may be the real reason: ${unseen.join(', ')}.`
        : ' Every step before it is seen.'
    }${passed.length > 0 ? ` Out of order too, though the chain went past it: ${passed.join('; ')}.` : ''}`,
    next_step: step?.checks[0]
      ? `Look first at: ${step.checks[0].what} (${step.checks[0].instrument}). Expect ${step.checks[0].expect}. The check sheet lists the rest in order.`
      : `Look at what the vehicle file calls “${name}”.`,
    cautions: [...new Set([DC_LINK, ...(step?.checks.flatMap((check) => check.cautions) ?? [])])],
    rivals: unseen.slice(0, 3).map((each) => {
      const other = stepNamed(facts.once(startChain), each)
      return {
        kind: 'no-drive',
        subject: { type: 'start-step', name: each },
        likelihood_ratio: null,
        for: `${other?.label ?? each} comes earlier in the chain and this log does not show it`,
        against: 'nothing in this log',
        decided_by: other?.checks[0]?.what ?? `a log with ${each}`,
      }
    }),
    channels: (step?.channels ?? []).filter((id) => facts.drive.channels.has(id)),
    evidence_s: [shown.attempt.startS, shown.attempt.endS],
  })
}

/** Attempts that failed before one that came through: a note, since the car did start. */
function retried(facts: Facts, judged: readonly JudgedAttempt[]): Finding[] {
  const lastGood = judged.findLastIndex(through)
  const failed = judged.slice(0, Math.max(0, lastGood)).filter((each) => each.firstFailed !== null)
  if (failed.length === 0) return []
  const name = mostTelling(failed)
  const shown = failed.find((each) => each.firstFailed === name)!
  const step = stepNamed(facts.once(startChain), name)
  const verdict = shown.steps.find((each) => each.step.name === name)?.verdict
  return [
    finding({
      kind: 'start-retried',
      subject: { type: 'start-step', name },
      span_s: [failed[0]!.attempt.startS, failed.at(-1)!.attempt.endS],
      value: failed.length,
      unit: 'attempts',
      plusMinus: 0,
      limit: null,
      severity: 'note',
      headline: `${failed.length === 1 ? 'An attempt' : `${failed.length} attempts`} to start failed at ${step?.label ?? name} before one came through`,
      reason: `${step?.label ?? name}: ${verdict?.held === false ? verdict.why : fallWords(facts, shown)}.`,
      next_step: 'Ask the driver; a step that fails now and then is caught best by logging every start.',
      cautions: [],
      channels: (step?.channels ?? []).filter((id) => facts.drive.channels.has(id)),
    }),
  ]
}

/** What changed when the attempt fell, in its order. */
function fallWords(facts: Facts, each: JudgedAttempt): string {
  const { fell } = each.attempt
  const events = fell ? (orderOfFall(facts, fell)?.events ?? []) : []
  return events.length > 0 ? `when the chain fell: ${events.map(({ what }) => what).join(', ')}` : 'failed'
}

/** Signs that somebody meant to drive: the brake or the pedal pressed, or a gear selected, with the key on. */
function triedToDrive(each: JudgedAttempt): boolean {
  const { facts, signals, attempt } = each.outcome
  const brake = each.steps.find(({ step }) => step.name === 'brake')?.verdict
  if (brake?.held === true || brake?.why.includes('pressure was there')) return true
  const gear = signals.selector?.changes.some(
    (c) => c.value !== 0 && c.atS > attempt.startS && c.atS < attempt.endS,
  )
  const pedal = samplesIn(facts.drive.channels.get('pedal_position'), attempt.startS, attempt.endS).values
  return gear === true || pedal.some((v) => v > 5)
}

/** The step that failed most often; the last one among equals. */
function mostTelling(failed: readonly JudgedAttempt[]): string {
  const counts = new Map<string, number>()
  for (const each of failed) counts.set(each.firstFailed!, (counts.get(each.firstFailed!) ?? 0) + 1)
  const most = Math.max(...counts.values())
  return failed.findLast((each) => counts.get(each.firstFailed!) === most)!.firstFailed!
}

const ASKED = 'Which step of the start chain stopped the car?'

function question(facts: Facts, judged: readonly JudgedAttempt[], found: boolean): Question {
  const signals = facts.once(startSignals)
  const wanted = ['key_on', 'contactor_positive', 'link_voltage', 'drive_ready']
  const missing = wanted.filter((id) => !facts.drive.channels.has(id))
  if (judged.length === 0) {
    const anything = missing.length < wanted.length
    return notAssessed(
      'start',
      ASKED,
      missing,
      anything ? 'the log shows no attempt to start' : 'the log has no channel that shows a start',
      'Log from before the key is turned, with the key, contactors, link voltage and drive ready.',
    )
  }
  if (judged.every((each) => each.reached === 'unknown' || (!each.attempt.startSeen && !found)))
    return notAssessed(
      'start',
      ASKED,
      missing,
      'start not seen: the log opens after it',
      'Begin the log before the key is turned.',
    )
  const came = judged.filter(through).length
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
    ASKED,
    found,
    `${judged.length} attempt${judged.length === 1 ? '' : 's'} seen, ${came} came through${
      unseenSteps.length > 0 ? `; not to be seen in every attempt: ${unseenSteps.join(', ')}` : ''
    }`,
    { value: slowest > 0 ? slowest : null, unit: 's', chance: 0.9 },
  )
}
