import type { Review } from '../../shared/review.ts'
import { brokenSentences } from './broken-sentences.ts'

/**
 * Words of the laboratory, not of the workshop (issue 12's list); findings, steps and verdict do without them. The exact
 * term may stand in what a question says of itself, which is printed on request.
 */
export const LABORATORY =
  /\brms\b|robust spread|\bohmic\b|polarisation|R\s?·\s?C\b|law of warming|as resistive|parts in a million|\d points\b|points of travel|V·s/i

/** What a person reads of a review without asking for the rest: verdict, findings, sheet, steps of a start. */
function told(review: Review): [where: string, text: string][] {
  const out: [string, string][] = [['verdict', review.verdict.sentence]]
  for (const each of review.verdict.before_touching) out.push(['before touching', each])
  for (const each of review.findings) {
    for (const key of ['headline', 'reason', 'next_step'] as const) out.push([`${each.id} ${key}`, each[key]])
    for (const caution of each.cautions) out.push([`${each.id} caution`, caution])
    for (const rival of each.rivals)
      for (const key of ['for', 'against', 'decided_by'] as const) out.push([`${each.id} rival`, rival[key]])
  }
  for (const each of review.questions) {
    out.push([each.question, each.question])
    if (each.to_assess !== null) out.push([each.question, each.to_assess])
  }
  for (const start of [...review.starts, ...review.charges])
    for (const step of start.steps) out.push([`step ${step.name}`, step.why])
  for (const check of review.check_sheet)
    for (const text of [check.what, check.instrument, check.expect, check.tells, check.known ?? ''])
      out.push([`check ${check.what}`, text])
  return out
}

/** Every sentence of a review that is broken, or that a fitter would not say; empty where all are sound. */
export function wrongSentences(review: Review): string[] {
  return [
    ...brokenSentences(review),
    ...told(review).flatMap(([where, text]) =>
      LABORATORY.test(text) ? [`a laboratory word in ${where}: ${text}`] : [],
    ),
  ]
}
