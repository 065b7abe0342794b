import type { Facts } from '../../facts/facts.ts'
import { stepNamed } from './start-chain-order.ts'
import { PRESSED_PERCENT, samplesIn, valueAt } from './start-signals.ts'
import type { StepDeclaration } from './start-steps.ts'
import { type JudgedAttempt, judgedAttempts, startChain } from './start-verdicts.ts'

/** Attempts to start that failed, taken together: what finding, check sheet and verdict all speak of. */
export interface Failure {
  /** The step that failed most often; the last one among equals. */
  readonly name: string
  readonly step: StepDeclaration | undefined
  readonly failed: readonly JudgedAttempt[]
  /** The attempt that shows it. */
  readonly shown: JudgedAttempt
  /** How many attempts with intent the log holds. */
  readonly of: number
  /** An attempt before these came through. */
  readonly afterGood: boolean
}

export const cameThrough = (each: JudgedAttempt): boolean =>
  each.firstFailed === null && (each.reached === 'ready' || each.reached === 'driving')

/** The attempts at the end of the log that failed, none of a later one having come through; null where the last did not fail. */
export function failureAtEnd(facts: Facts): Failure | null {
  const judged = facts.once(judgedAttempts).filter((each) => each.attempt.asked !== null)
  const lastGood = judged.findLastIndex(cameThrough)
  if (judged.at(-1)?.firstFailed == null) return null
  return together(facts, judged.slice(lastGood + 1), judged.length, lastGood >= 0)
}

/** Attempts that failed before one that came through; null where there is none. */
export function failureBefore(facts: Facts): Failure | null {
  const judged = facts.once(judgedAttempts).filter((each) => each.attempt.asked !== null)
  const lastGood = judged.findLastIndex(cameThrough)
  return lastGood < 1 ? null : together(facts, judged.slice(0, lastGood), judged.length, false)
}

function together(
  facts: Facts,
  among: readonly JudgedAttempt[],
  of: number,
  afterGood: boolean,
): Failure | null {
  const failed = among.filter((each) => each.firstFailed !== null)
  if (failed.length === 0) return null
  const counts = new Map<string, number>()
  for (const each of failed) counts.set(each.firstFailed!, (counts.get(each.firstFailed!) ?? 0) + 1)
  const most = Math.max(...counts.values())
  const shown = failed.findLast((each) => counts.get(each.firstFailed!) === most)!
  const name = shown.firstFailed!
  return { name, step: stepNamed(facts.once(startChain), name), failed, shown, of, afterGood }
}

/**
 * Did somebody mean to drive? The brake or the pedal pressed, or a gear selected; or a step failed that nobody has to ask
 * for. Without it a brake that was not pressed, or a second start that nobody used, is a driver who waits.
 */
export function meantToDrive({ name, step, failed, shown, afterGood }: Failure): boolean {
  const verdict = shown.steps.find((each) => each.step.name === name)?.verdict
  const idle = name === 'brake' || (afterGood && verdict?.selfExplained !== true && step?.role === 'effect')
  return !idle || failed.some(triedToDrive)
}

function triedToDrive(each: JudgedAttempt): boolean {
  const { facts, signals, attempt } = each.outcome
  const brake = each.steps.find(({ step }) => step.name === 'brake')?.verdict
  if (brake?.held === true || brake?.why.includes('pressure was there')) return true
  // a gear selected in the attempt, or left in before it
  const gear =
    signals.selector?.changes.some((c) => c.value !== 0 && c.atS > attempt.startS && c.atS < attempt.endS) ||
    (signals.selector?.changes[0] !== undefined &&
      Math.abs(valueAt(signals.selector, Math.max(attempt.startS, signals.selector.changes[0].atS))) > 0)
  const pedal = samplesIn(facts.drive.channels.get('pedal_position'), attempt.startS, attempt.endS).values
  return gear === true || pedal.some((v) => v > PRESSED_PERCENT)
}
