import type { Review } from '../../shared/review.ts'
import { earlierCells, withEarlierCells } from './earlier-cells.ts'
import { earlierStarts, withEarlierStarts } from './earlier-starts.ts'
import type { Place } from './place.ts'

/**
 * A drive that is kept stands beside the earlier ones of its car; any other review depends on its logs alone.
 * @param replaces the stored drive that this one replaces
 */
export function besideEarlier(
  place: Place,
  car: string | undefined,
  review: Review,
  replaces?: { readonly id: string; readonly addedAt: string },
): Review {
  const starts = earlierStarts(place, car, review, replaces?.id)
  const cells = earlierCells(place, car, review, replaces)
  return withEarlierCells(withEarlierStarts(review, starts), cells)
}
