import type { Facts } from '../analyses/analysis.ts'
import { type Attempt, attempts } from './start-attempts.ts'
import { chainOf } from './start-chain-order.ts'
import { judgeStep } from './start-judges.ts'
import { type Outcome, outcomeOf } from './start-outcome.ts'
import { firstMain } from './start-sequences.ts'
import type { StepDeclaration } from './start-steps.ts'
import type { Verdict } from './start-verdict.ts'

export type Reached = 'unknown' | 'off' | 'waiting' | 'precharge' | 'contactors' | 'ready' | 'driving'

/** An attempt with every step judged. */
export interface JudgedAttempt {
  readonly attempt: Attempt
  readonly outcome: Outcome
  readonly reached: Reached
  readonly steps: readonly { readonly step: StepDeclaration; readonly verdict: Verdict }[]
  readonly firstFailed: string | null
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
    const firstFailed = firstFailedOf(steps, outcome)
    const before = firstFailed === null ? 0 : steps.findIndex(({ step }) => step.name === firstFailed)
    return {
      attempt,
      outcome,
      reached: reachedOf(outcome),
      steps,
      firstFailed,
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
    ({ step, verdict }, i) => i > lastHeld && step.role === 'effect' && verdict.held === false,
  )
  const torqueMissing = missing?.step.name === 'torque'
  if (ready && !torqueMissing) return null
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
  if (blamed && (!missing || steps.indexOf(blamed) < at || !missing.verdict.selfExplained))
    return blamed.step.name
  return missing?.step.name ?? null
}
