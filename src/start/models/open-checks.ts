import type { Reading } from '../../../shared/reading.ts'
import { readingText } from '../../../shared/wording.ts'
import type { Facts } from '../../facts/facts.ts'
import { readingOf } from './check-readings.ts'
import { stepNamed } from './start-chain-order.ts'
import type { Failure } from './start-failure.ts'
import type { Loss } from './start-losses.ts'
import type { StepCheck } from './start-step-checks.ts'
import type { StepDeclaration } from './start-steps.ts'
import { type JudgedAttempt, startChain } from './start-verdicts.ts'
import { type Suspect, unprovedSuspects } from './unproved-switches.ts'

/** A link that came so far was charged through the resistor; no source. */
const CONDUCTS_PERCENT = 20
/** A link that came no farther stayed down; no source. */
const DOWN_PERCENT = 5

/** One check with what the log, or a reading at the car, already answers; `known` null: still to be done. */
export interface RankedCheck {
  readonly step: StepDeclaration
  readonly check: StepCheck
  readonly known: string | null
  /** It was measured and is not as it should be: what is to be put right. */
  readonly wrong: Reading | null
}

/** A step that failed counts this many times one that the log cannot show. Common practice, no source. */
const FAILED_WEIGHT = 4

/**
 * What to look at, in order: the one place that finding, check sheet and work card take their first step from.
 *
 * Order: what was measured at the car and is not as it should be; a switch that reads in the way throughout though
 * nothing proves its values; the first open check of the step that failed; the rest by likelihood ÷ effort, the failed
 * step counting four times an unseen one; last what the log has answered already. Likelihoods: common practice, no source.
 */
function rankedChecks(
  facts: Facts,
  name: string,
  judged: JudgedAttempt,
  unseen: readonly string[],
): RankedCheck[] {
  const chain = facts.once(startChain)
  const suspects = unprovedSuspects(facts, judged, name)
  const ranked = [name, ...unseen].flatMap((each, i) => {
    const step = stepNamed(chain, each)
    return (step?.checks ?? []).map((check) => ({
      step: step!,
      check,
      ...told(facts, step!, check, judged),
      value: (i === 0 ? FAILED_WEIGHT : 1) / check.effort,
      first: suspects.findIndex((suspect) => suspect.step.name === each),
    }))
  })
  ranked.sort(
    (a, b) =>
      Number(b.wrong !== null) - Number(a.wrong !== null) ||
      Number(a.known !== null) - Number(b.known !== null) ||
      b.value - a.value ||
      a.check.effort - b.check.effort,
  )
  const lead =
    ranked.find(({ wrong }) => wrong !== null) ??
    ranked.find(({ known, first }) => known === null && first === 0) ??
    ranked.find(({ known, step }) => known === null && step.name === name)
  return lead ? [lead, ...ranked.filter((each) => each !== lead)] : ranked
}

export const checksOfFailure = (facts: Facts, { name, shown }: Failure): RankedCheck[] =>
  rankedChecks(facts, name, shown, shown.unseenBefore)

export const checksOfLoss = (facts: Facts, loss: Loss): RankedCheck[] =>
  rankedChecks(facts, loss.events[0]!.step, loss.judged, loss.undecided)

/** The first check that is still open, in one sentence; null where none is. */
export function firstOpen(checks: readonly RankedCheck[], suspect?: Suspect): string | null {
  const first = checks.find(({ known }) => known === null)
  if (!first) return null
  if (first.wrong) return `Put right first: ${wrongText(first.check, first.wrong)}.`
  const why = suspect && suspect.step.name === first.step.name ? ` Most likely ${suspect.why}.` : ''
  return `Look first at: ${first.check.what} (${first.check.instrument}). Expect ${first.check.expect}.${why}`
}

/** What was measured and is wrong, and what that tells. */
export const wrongText = ({ what, expect, tells }: StepCheck, reading: Reading): string =>
  `${what}: measured ${readingText(reading)}, expected ${expect} (${tells})`

/** What a reading at the car answers, else the log. */
function told(
  facts: Facts,
  step: StepDeclaration,
  check: StepCheck,
  judged: JudgedAttempt,
): Pick<RankedCheck, 'known' | 'wrong'> {
  const taken = readingOf(facts, check)
  if (!taken) return { known: answered(step, check, judged), wrong: null }
  const { reading, right } = taken
  if (right === false) return { known: null, wrong: reading }
  const as = right ? 'as expected' : `expected was ${check.expect}`
  return { known: `measured at the car: ${readingText(reading)}; ${as}`, wrong: null }
}

/** A check of the precharge that the link voltage has answered already. */
function answered(step: StepDeclaration, check: StepCheck, judged: JudgedAttempt): string | null {
  const run = judged.attempt.run
  if (step.name !== 'precharge' || !run?.reached) return null
  const resistor = check.what.startsWith('precharge resistor')
  if (resistor && run.reached.value > CONDUCTS_PERCENT && run.levelled)
    return `the link rose to ${run.reached.value.toFixed(0)} % and levelled off, so resistor, fuse and contactor conduct`
  if (!resistor && run.reached.value < DOWN_PERCENT && run.steadyA !== null && !run.shorted)
    return 'no current flowed while the link stayed down: no load across the link explains it'
  return null
}
