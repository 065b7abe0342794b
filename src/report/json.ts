import type { Review } from '../../shared/review.ts'

/** The review as JSON text: keys in the schema's order, what is not finite as null, a newline at the end. */
export function toJson(review: Review): string {
  return `${JSON.stringify(review, null, 1)}\n`
}
