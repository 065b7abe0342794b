import type { Review } from '../../shared/review.ts'
import { inOrder, withIds } from './order.ts'
import { verdictOf } from './verdict.ts'

/** Everything of a review but what follows from its findings. */
export type Unfinished = Omit<Review, 'verdict'>

/**
 * What follows from all findings together: their ids, their order, the verdict. Whoever adds a finding to a review (the
 * library, from earlier drives) finishes it again.
 * @param beforeTouching what is known of the car itself, whatever was found
 */
export function finishReview(review: Unfinished, beforeTouching: readonly string[]): Review {
  const findings = inOrder(withIds(review.findings))
  const { schema, ...rest } = { ...review, findings }
  return { schema, verdict: verdictOf(rest, beforeTouching), ...rest }
}

/** A finished review whose findings changed. */
export const finishAgain = ({ verdict, ...review }: Review): Review =>
  finishReview(review, verdict.before_touching)
