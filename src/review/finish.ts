import type { Review } from '../../shared/review.ts'
import { inOrder, withIds } from './order.ts'
import { tidy } from './tidy.ts'
import { verdictOf } from './verdict.ts'

/** Everything of a review but what follows from its findings. */
export type Unfinished = Omit<Review, 'verdict'>

/**
 * What follows from all findings together: their ids, their order, the verdict. Whoever adds a finding to a review (the
 * library, from earlier drives) finishes it again. Figures are tidied.
 * @param beforeTouching what is known of the car itself, whatever was found
 */
export function finishReview(review: Unfinished, beforeTouching: readonly string[]): Review {
  const findings = inOrder(withIds(review.findings))
  const { schema, ...rest } = { ...review, findings }
  const made = tidy({ schema, verdict: verdictOf(rest, beforeTouching), ...rest })
  reader?.(made)
  return made
}

/** Reads every review as it is made: the tests hold each of its sentences so (`tests/helpers/every-review.ts`). */
type Reader = (review: Review) => void
let reader: Reader | null = null

/** @returns who read them before */
export function readEveryReview(by: Reader | null): Reader | null {
  const before = reader
  reader = by
  return before
}

/** A finished review whose findings changed. */
export const finishAgain = ({ verdict, ...review }: Review): Review =>
  finishReview(review, verdict.before_touching)
