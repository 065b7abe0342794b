import type { Question } from '../../shared/review.ts'
import type { Rungs } from './rungs.ts'

/** Leaves out what to drive to find out on a rung that is closed, and says why in its place (the safety page). */
export function withholdDriving(questions: readonly Question[], rungs: Rungs): Question[] {
  return questions.map((question) => {
    const why = rungs[question.rung ?? 'standing']
    if (why === null) return question
    return {
      ...question,
      to_assess: null,
      why: `${question.why.replace(/\.$/, '')}. What to drive is left out: ${why}.`,
    }
  })
}
