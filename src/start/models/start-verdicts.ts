import type { Facts } from '../../facts/facts.ts'
import { type Attempt, attempts } from './start-attempts.ts'
import { chainOf } from './start-chain-order.ts'
import { orderOfFall } from './start-fall.ts'
import { judgeStep } from './start-judges.ts'
import { type Outcome, outcomeOf } from './start-outcome.ts'
import { firstMain } from './start-sequences.ts'
import { type Change, faultWords, trackOf, valueAt } from './start-signals.ts'
import type { StepDeclaration } from './start-steps.ts'
import type { Verdict } from './start-verdict.ts'

export type Reached = 'unknown' | 'off' | 'waiting' | 'precharge' | 'contactors' | 'ready' | 'driving'

/** An attempt with every step judged. */
export interface JudgedAttempt {
  readonly attempt: Attempt
  readonly outcome: Outcome
  readonly reached: Reached
  readonly steps: readonly { readonly step: StepDeclaration; readonly verdict: Verdict }[]
  /** Null where nobody asked for a start, whatever a step would say. */
  readonly firstFailed: string | null
  /** Where nobody asked: the step that would have stopped the start. */
  readonly wouldFail: string | null
  /** Steps before the first failed one that the log cannot show: they may be the real reason. */
  readonly unseenBefore: readonly string[]
}

/** The chain of this car, with the order of the main contactors as the vehicle file or the log has it. */
export function startChain(facts: Facts): StepDeclaration[] {
  const { vehicle } = facts
  const learned = vehicle.precharge?.layout ?? (facts.once(firstMain) === 'positive' ? 'negative' : undefined)
  return chainOf(
    learned === undefined ? vehicle : { ...vehicle, precharge: { ...vehicle.precharge, layout: learned } },
  )
}

/** Every attempt of the log, judged step by step. */
export function judgedAttempts(facts: Facts): JudgedAttempt[] {
  const chain = facts.once(startChain)
  return facts.once(attempts).map((attempt) => {
    const outcome = outcomeOf(facts, attempt)
    const steps = chain.map((step) => ({ step, verdict: judgeStep(step, outcome) }))
    const stopped = firstFailedOf(steps, outcome)
    const firstFailed = attempt.asked === null ? null : stopped
    const before = firstFailed === null ? 0 : steps.findIndex(({ step }) => step.name === firstFailed)
    return {
      attempt,
      outcome,
      reached: reachedOf(outcome),
      steps,
      firstFailed,
      wouldFail: attempt.asked === null ? stopped : null,
      unseenBefore: steps
        .slice(0, before)
        .filter(({ verdict }) => verdict.held === null)
        .map(({ step }) => step.name),
    }
  })
}

function reachedOf(outcome: Outcome): Reached {
  const { attempt, signals, drove, ready, secondMainClosed, firstMainClosed } = outcome
  if (drove) return 'driving'
  if (ready) return 'ready'
  if (secondMainClosed) return 'contactors'
  if (attempt.run || firstMainClosed) return attempt.run ? 'precharge' : 'waiting'
  return signals.key || signals.bms || signals.inverter ? 'waiting' : 'unknown'
}

/**
 * Which step stopped the attempt: the first effect that is seen missing, or, earlier in the chain, a condition that
 * it needs and that is seen false by then. Two exceptions keep consequences from being blamed for their causes:
 * where the effect's failure is seen in itself (a link that levels off short, a command without feedback), a
 * condition that was false all along had let the chain pass, and the battery unit's fault is its answer.
 */
function firstFailedOf(
  steps: readonly { readonly step: StepDeclaration; readonly verdict: Verdict }[],
  outcome: Outcome,
): string | null {
  const { attempt, ready } = outcome
  const lastHeld = steps.findLastIndex(({ step, verdict }) => step.role === 'effect' && verdict.held === true)
  const missing = steps.find(
    ({ step, verdict }, i) =>
      step.role === 'effect' && verdict.held === false && (i > lastHeld || verdict.selfExplained === true),
  )
  const torqueMissing = missing?.step.name === 'torque'
  if (ready && !torqueMissing) return null
  // The log opens with the contactors closed: it may open in the middle of a drive, and shows no start that failed.
  if (
    !attempt.startSeen &&
    outcome.secondMainClosed &&
    !missing?.verdict.selfExplained &&
    !outcome.signals.ready
  )
    return null
  const at = missing ? steps.indexOf(missing) : steps.length
  const fallS = attempt.fell?.atS ?? attempt.endS
  const blamed = steps.find(({ step, verdict }, i) => {
    if (step.role !== 'condition' || verdict.held !== false) return false
    if (missing) {
      const known = missing.step.needs.includes(step.name) || (step.checks.length === 0 && i < at)
      if (!known) return false
      if (missing.verdict.selfExplained) {
        if (verdict.throughout) return false
        if (step.name === 'battery' || step.name === 'supply') return false
      }
      if (
        step.name === 'battery' &&
        !verdict.throughout &&
        ['positive', 'negative'].includes(missing.step.name)
      )
        return false
    }
    return verdict.earliestS === null || verdict.earliestS <= fallS
  })
  if (!blamed && !missing && attempt.endedBy === 'chain' && attempt.fell)
    return behindBattery(firstToFall(outcome, attempt.fell), steps, outcome)
  if (blamed?.step.name === 'battery') return behindBattery('battery', steps, outcome)
  if (blamed && (!missing || steps.indexOf(blamed) < at || !missing.verdict.selfExplained))
    return blamed.step.name
  return missing?.step.name ?? null
}

/** What changed first when an attempt fell; contactors that open where no key is logged may be the driver leaving. */
function firstToFall(outcome: Outcome, fell: Change): string | null {
  const first = orderOfFall(outcome.facts, fell)?.events[0]?.step ?? null
  const effect = first !== null && ['negative', 'positive', 'inverter', 'ready'].includes(first)
  return effect && !outcome.signals.key ? null : first
}

/** What the words of a vehicle file's fault bits name, as a step. Common practice, no source. */
const NAMED: readonly (readonly [RegExp, string])[] = [
  [/isol|leak|insulat/i, 'isolation'],
  [/interlock|\bloop\b/i, 'interlock'],
  [/inertia|crash|impact/i, 'inertia'],
  [/pre-?charge/i, 'precharge'],
  [/\b12 ?v\b|supply|low voltage system/i, 'supply'],
]

/**
 * The battery unit's fault is a summary: a leak that is seen all along, or the one step that its fault bits name, is
 * what it sums up, unless the log shows that step to hold.
 */
function behindBattery(
  name: string | null,
  steps: readonly { readonly step: StepDeclaration; readonly verdict: Verdict }[],
  outcome: Outcome,
): string | null {
  if (name !== 'battery') return name
  const verdictOf = (step: string): boolean | null | undefined =>
    steps.find((each) => each.step.name === step)?.verdict.held
  if (verdictOf('isolation') === false) return 'isolation'
  const { facts, attempt } = outcome
  const word = valueAt(trackOf(facts.drive.channels.get('bms_faults')), attempt.endS)
  if (!Number.isFinite(word) || facts.drive.channels.get('bms_faults')?.labels) return name
  const named = faultWords(facts, 'bms', word).flatMap((words) =>
    NAMED.filter(([rule]) => rule.test(words)).map(([, step]) => step),
  )
  const [step] = named
  if (step === undefined || new Set(named).size > 1) return name
  // A leak that comes with the contactors is too new for a settled reading to deny it.
  const denied = step !== 'isolation' && verdictOf(step) === true
  return denied || verdictOf(step) === undefined ? name : step
}
