import { type Review, reviewSchema } from '../../shared/review.ts'

/** The review as JSON text: keys in the schema's order, a newline at the end. The same review gives the same bytes. */
export function toJson(review: Review): string {
  return `${JSON.stringify(reviewSchema.parse(review), null, 1)}\n`
}
