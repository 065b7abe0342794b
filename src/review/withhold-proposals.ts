import type { Finding, Question, Review } from '../../shared/review.ts'

/** Areas that must have been assessed before the tool proposes how the brakes should behave. */
const NEEDED = [
  ['pedal', 'the accelerator'],
  ['brake', 'the brake'],
  ['isolation', 'isolation'],
  ['start', 'the contactors'],
] as const

/**
 * Why nothing may be proposed to try on the road: a finding says stop, or one of the areas above is not assessed at all.
 * null where it may.
 */
export function whyWithheld(questions: readonly Question[], findings: readonly Finding[]): string | null {
  const stop = findings.find((each) => each.severity === 'stop')
  if (stop) return `a finding says stop: ${stop.headline}`
  const unseen = NEEDED.filter(([area]) =>
    questions.every((each) => each.area !== area || each.state === 'not-assessed'),
  ).map(([, words]) => words)
  return unseen.length > 0 ? `this log does not assess ${unseen.join(', ')}` : null
}

/**
 * Takes proposals out of the `regen` section while any finding says stop, or while accelerator, brake, isolation or
 * contactors are not assessed at all, and says why. A proposal is something to try on the road, and what to drive is
 * left out then (the safety page). Replays stay: they are figures about this drive.
 */
export function withholdProposals(
  regen: Review['regen'],
  questions: readonly Question[],
  findings: readonly Finding[],
): Review['regen'] {
  if (!regen || regen.proposals.length === 0) return regen
  const why = whyWithheld(questions, findings)
  if (why === null) return regen
  return { ...regen, proposals: [], proposals_withheld: why }
}
