import type { Finding } from '../../../shared/review.ts'
import type { Span } from '../../../shared/units.ts'
import { DC_LINK } from '../../facts/cautions.ts'
import { type Facts, logged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { checksOfFailure, firstOpen } from '../models/open-checks.ts'
import { stepNamed } from '../models/start-chain-order.ts'
import {
  cameThrough,
  type Failure,
  failureAtEnd,
  failureBefore,
  meantToDrive,
} from '../models/start-failure.ts'
import { orderOfFall } from '../models/start-fall.ts'
import { type JudgedAttempt, judgedAttempts, startChain } from '../models/start-verdicts.ts'
import { type Suspect, unprovedSuspects } from '../models/unproved-switches.ts'

/**
 * The findings of the start chain: `no-drive` stop where no later attempt came through; attention, "intermittent",
 * where one did; attention where only the key is seen and nothing ever came through. Its first step is the first open
 * check of the check sheet.
 */
export function noDriveFindings(facts: Facts): Finding[] {
  const atEnd = failureAtEnd(facts)
  const before = failureBefore(facts)
  return [
    ...(atEnd ? [stopped(facts, atEnd)] : []),
    ...(before ? [intermittent(facts, before)] : []),
    ...keyAlone(facts),
  ]
}

function stopped(facts: Facts, failure: Failure): Finding {
  const { name, step, failed, shown } = failure
  const label = step?.label ?? name
  const meant = meantToDrive(failure)
  const unseen = shown.unseenBefore
  const suspects = unprovedSuspects(facts, shown, name)
  const at = shown.steps.findIndex((each) => each.step.name === name)
  const passed = shown.steps
    .slice(0, Math.max(0, at))
    .filter((each) => each.verdict.held === false)
    .map((each) => `${each.step.label}: ${each.verdict.why}`)
  const tail = [
    unseen.length > 0
      ? `Steps before it that this log cannot show, any of which may be the real reason: ${unseen.join(', ')}.`
      : 'Every step before it is seen.',
    ...(passed.length > 0 ? [`Out of order too, though the chain went past it: ${passed.join('; ')}.`] : []),
  ]
  return finding({
    ...common(facts, failure),
    // nothing ever came through, and whether anybody wanted it to is not seen: as for the key alone
    severity: meant ? 'stop' : failure.afterGood ? 'note' : 'attention',
    headline:
      meant || failure.afterGood
        ? `The car did not become able to drive: ${label} is the first step that failed`
        : `The car did not become ready, ${label} is missing; whether a start was asked for cannot be told`,
    reason: `${count(failed.length)}; ${whyOf(facts, failure)}. ${tail.join(' ')}`,
    next_step: nextStep(facts, failure, suspects[0]),
    rivals: rivals(facts, unseen, suspects),
  })
}

function intermittent(facts: Facts, failure: Failure): Finding {
  const { name, step, failed, of } = failure
  return finding({
    ...common(facts, failure),
    severity: meantToDrive(failure) ? 'attention' : 'note',
    headline: `Intermittent: ${failed.length} of ${of} attempts to start failed at ${step?.label ?? name}`,
    reason: `${whyOf(facts, failure)}. A later attempt came through.`,
    next_step: `${nextStep(facts, failure)} A step that fails now and then is caught best by logging every start.`,
  })
}

/** A key on for this long is more than a turn too far, s. Common practice, no source. */
const KEY_ALONE_S = 5

/** The key on, nobody seen to ask for a start, and nothing closed. */
function keyAlone(facts: Facts): Finding[] {
  const judged = facts.once(judgedAttempts)
  const alone = judged.filter(
    ({ attempt, reached }) =>
      attempt.asked === null && reached === 'waiting' && attempt.endS - attempt.startS > KEY_ALONE_S,
  )
  const last = alone.at(-1)
  if (!last || alone.length < judged.length || !canShowStart(facts)) return []
  const name = last.wouldFail ?? 'key'
  const failure: Failure = {
    name,
    step: stepNamed(facts.once(startChain), name),
    failed: alone,
    shown: last,
    of: alone.length,
    afterGood: false,
  }
  const verdict = last.steps.find(({ step }) => step.name === name)?.verdict
  const { startS, endS } = last.attempt
  return [
    finding({
      ...common(facts, failure),
      severity: 'attention',
      headline: `The key was on for ${(endS - startS).toFixed(0)} s and the car did not become ready; whether a start was asked for cannot be told`,
      reason: `No brake press, no selector movement and no contactor command is seen with the key on, and nothing in this log ever came through.${
        verdict?.held === false
          ? ` If a start was meant, ${failure.step?.label ?? name} stops it: ${verdict.why}.`
          : ''
      }`,
      next_step: last.wouldFail
        ? nextStep(facts, failure)
        : 'Ask the driver; then log a start with the brake, the selector, the contactors and drive ready.',
    }),
  ]
}

/** Is anything logged by which a start could be seen to come through? */
const canShowStart = (facts: Facts): boolean =>
  ['drive_ready', 'contactor_positive', 'contactor_negative', 'link_voltage', 'speed', 'bms_state'].some(
    (id) => [...facts.drive.channels.keys()].some((each) => each === id || each.startsWith(`${id}_`)),
  )

const count = (attempts: number): string => `${attempts} ${attempts === 1 ? 'attempt' : 'attempts'}`

function common(facts: Facts, { name, step, failed, shown }: Failure) {
  const span: Span = [failed[0]!.attempt.startS, failed.at(-1)!.attempt.endS]
  return {
    kind: 'no-drive' as const,
    subject: { type: 'start-step' as const, name },
    span_s: span,
    onset_s: failed[0]!.attempt.startS,
    value: failed.length,
    unit: 'attempts',
    plusMinus: 0,
    limit: null,
    cautions: [...new Set([DC_LINK, ...(step?.checks.flatMap((check) => check.cautions) ?? [])])],
    channels: logged(facts, step?.channels ?? []),
    evidence_s: [shown.attempt.startS, shown.attempt.endS] as Span,
    question: START_QUESTION,
  }
}

export const START_QUESTION = 'Which step of the start chain stopped the car?'

/** What the step itself says, else what changed when the attempt fell, in its order. */
function whyOf(facts: Facts, { name, step, shown }: Failure): string {
  const verdict = shown.steps.find((each) => each.step.name === name)?.verdict
  return `${step?.label ?? name}: ${verdict?.held === false ? verdict.why : fallWords(facts, shown)}`
}

function fallWords(facts: Facts, { attempt: { fell } }: JudgedAttempt): string {
  const events = fell ? (orderOfFall(facts, fell)?.events ?? []) : []
  return events.length > 0 ? `when the chain fell: ${events.map(({ what }) => what).join(', ')}` : 'failed'
}

function nextStep(facts: Facts, failure: Failure, suspect?: Suspect): string {
  const open = firstOpen(checksOfFailure(facts, failure), suspect)
  if (open === null) return `Look at what the vehicle file calls “${failure.name}”.`
  return cameThrough(failure.shown) ? open : `${open} The check sheet lists the rest in order.`
}

function rivals(facts: Facts, unseen: readonly string[], suspects: readonly Suspect[]): Finding['rivals'] {
  const names = [...new Set([...suspects.map(({ step }) => step.name), ...unseen])].slice(0, 3)
  return names.map((name) => {
    const step = stepNamed(facts.once(startChain), name)
    const suspect = suspects.find((each) => each.step.name === name)
    return {
      kind: 'no-drive',
      subject: { type: 'start-step', name },
      likelihood_ratio: null,
      for: suspect
        ? suspect.why
        : `${step?.label ?? name} comes earlier in the chain and this log does not show it`,
      against: suspect ? 'nothing proves what its values mean' : 'nothing in this log',
      decided_by: step?.checks[0]?.what ?? `a log with ${name}`,
    }
  })
}
