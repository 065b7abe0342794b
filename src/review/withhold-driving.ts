import type { Finding, Question } from '../../shared/review.ts'
import { TO_DRIVE } from '../facts/drive-advice.ts'
import { whyWithheld } from './withhold-proposals.ts'

/**
 * Leaves out what to drive to find out while any finding says stop, or while accelerator, brake, isolation or
 * contactors are not assessed at all (the safety page), and says so in its place.
 */
export function withholdDriving(questions: readonly Question[], findings: readonly Finding[]): Question[] {
  const why = whyWithheld(questions, findings)
  return questions.map((question) =>
    why !== null && question.to_assess?.startsWith(TO_DRIVE)
      ? {
          ...question,
          to_assess: null,
          why: `${question.why.replace(/\.$/, '')}. What to drive is left out: ${why}.`,
        }
      : question,
  )
}
