import { type Review, reviewSchema } from '../../shared/review.ts'
import { LogError } from '../errors.ts'
import { DC_LINK } from '../facts/cautions.ts'
import { findingId } from '../facts/finding.ts'
import { finishReview, type Unfinished } from '../review/finish.ts'

/** A review of schema 1 as it was stored: findings without id, cause, pattern and question; no verdict. */
type Old = Omit<Unfinished, 'schema' | 'charges'> & { schema: 1 }

/**
 * A stored review, whatever schema it was written with. What schema 1 did not hold is filled as far as its own figures
 * tell: ids from kind and subject, the verdict from its findings; which question a finding answers stays null.
 * @throws LogError where it is neither, or damaged
 */
export function openReview(stored: unknown): Review {
  try {
    return opened(stored)
  } catch {
    throw new LogError('damaged-drive', 'The stored review of this drive is damaged or of a newer version.')
  }
}

function opened(stored: unknown): Review {
  if ((stored as { schema?: unknown } | null)?.schema !== 1) return reviewSchema.parse(stored)
  const old = stored as Old
  const regen = old.regen
    ? // in schema 1 `max_nm` was the brake part alone; the most in all was not kept
      { ...old.regen, brake_max_nm: old.regen.max_nm, max_nm: null, max_nm_plus_minus: null }
    : null
  const review = finishReview(
    {
      ...old,
      schema: 2,
      charges: [],
      regen,
      findings: old.findings.map((each) => ({
        ...each,
        id: findingId(each.kind, each.subject),
        explained_by: null,
        also: [],
        question: null,
      })),
    },
    [`Reviewed by an earlier version: review it again. The link is not proved down. ${DC_LINK}`],
  )
  return reviewSchema.parse(review)
}
