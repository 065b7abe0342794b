import type { DriveSummary } from '../../shared/api.ts'
import type { CarRecord } from '../../shared/car-record.ts'
import type { Review } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { packReading } from '../history/cell-series.ts'
import { type Told, toldChanges, toldUnlike } from '../history/told.ts'
import { finishAgain } from '../review/finish.ts'
import {
  ABOUT_CELL,
  type EarlierDrive,
  earlierDrives,
  inTime,
  opened,
  withEarlierCells,
} from './earlier-cells.ts'
import { withEarlierRests } from './earlier-rests.ts'
import { askedOnce } from './earlier-signals.ts'
import { earlierStarts, withEarlierStarts } from './earlier-starts.ts'
import { drivesIn, otherDrivesOf } from './library.ts'
import type { Place } from './place.ts'
import { readRecord } from './record/car-record.ts'

/** More cars of a kit say no more of its middle. */
const MOST_SIBLINGS = 40

/**
 * A drive that is kept, or reviewed with its car, stands beside the earlier ones of the car and one of each other car of
 * its kit; any other review depends on its logs alone. What entered is listed in `history`, with hashes.
 * @param replaces the stored drive that this one replaces
 */
export function besideEarlier(
  place: Place,
  car: string | undefined,
  review: Review,
  replaces?: { readonly id: string; readonly addedAt: string },
  kit?: string | undefined,
  vehicle: Vehicle = {},
): Review {
  const others = otherDrivesOf(place, car, review, replaces?.id)
  const earlier = earlierDrives(place, others, review, replaces)
  // steps of a start are held against all other drives of the car, later ones too
  const starts = earlierStarts(place, others, earlier)
  const siblings = kit ? siblingsOf(place, car, kit, review) : []
  const begun = withEarlierRests(
    withEarlierCells(withEarlierStarts(review, starts), earlier),
    earlier,
    vehicle,
  )
  const told = [
    toldChanges(review, earlier, car ? mendedSince(recordOf(place, car), earlier) : new Map()),
    ...(kit ? [toldUnlike(review, kit, siblings)] : []),
  ]
  if (others.length + siblings.length === 0) return kit ? joined(begun, told) : begun
  const siblingDrives = siblings.map(({ summary }) => summary)
  const asked = joined({ ...begun, history: historyOf(car, kit, others, siblingDrives) }, told)
  return {
    ...asked,
    questions: askedOnce(
      asked.questions,
      earlier.map((each) => each.review),
    ),
  }
}

function joined(review: Review, told: readonly Told[]): Review {
  const causes = review.findings.filter(({ kind }) => ABOUT_CELL.test(kind))
  const findings = told
    .flatMap((each) => each.findings)
    .map((each) => {
      const cause = causes.find(
        ({ subject }) => each.subject.type === 'cell' && subject.index === each.subject.index,
      )
      return cause ? { ...each, explained_by: cause.id } : each
    })
  return finishAgain({
    ...review,
    questions: [...review.questions, ...told.flatMap((each) => each.questions)],
    findings: [...review.findings, ...findings],
  })
}

const heard = ({ title, started_at, files, car }: DriveSummary) => ({
  ...{ car, title, started_at },
  files: files.map(({ name, sha256 }) => ({ name, sha256 })),
})

const historyOf = (
  car: string | undefined,
  kit: string | undefined,
  drives: readonly DriveSummary[],
  siblings: readonly DriveSummary[],
): NonNullable<Review['history']> => ({
  car: car ?? null,
  kit: kit ?? null,
  drives: [...drives].sort(inTime).map(heard),
  siblings: siblings.map(heard),
})

/** One drive of each other car of the kit: the one most like this in warmth and charge, by its typical cell. */
export function siblingsOf(
  place: Place,
  car: string | undefined,
  kit: string,
  review: Review,
): EarlierDrive[] {
  const typical = packReading(review)?.typicalMohm ?? null
  const unlikeness = ({ typical_mohm }: DriveSummary): number =>
    typical === null || !typical_mohm ? Number.MAX_VALUE : Math.abs(Math.log(typical_mohm / typical))
  const best = new Map<string, DriveSummary>()
  // the newest first: of two alike the newer stands
  for (const each of drivesIn(place)) {
    if (each.kit !== kit || each.car === null || each.car === car || each.trouble) continue
    const other = best.get(each.car)
    if (!other || unlikeness(each) < unlikeness(other)) best.set(each.car, each)
  }
  return [...best.values()]
    .sort((a, b) => a.car!.localeCompare(b.car!, 'en'))
    .slice(0, MOST_SIBLINGS)
    .flatMap((summary) => opened(place, summary))
}

/** Cell → the first of the earlier drives that is later than its mending: what was mended begins anew. */
function mendedSince(record: CarRecord | null, earlier: readonly EarlierDrive[]): Map<number, number> {
  const since = new Map<number, number>()
  for (const { subject, deeds } of record?.findings ?? []) {
    const mended = deeds.findLast(({ state }) => state === 'mended')
    if (!mended || subject.index === undefined || !/^(cell|joint)$/.test(subject.type)) continue
    const shown = earlier.findIndex(({ summary }) => summary.id === mended.drive)
    const day = mended.at.slice(0, 10)
    const first = earlier.findIndex(
      ({ summary }, at) =>
        at > shown && (summary.started_at === null || summary.started_at.slice(0, 10) >= day),
    )
    since.set(subject.index, first < 0 ? earlier.length : first)
  }
  return since
}

/** A record that cannot be read is no reason to refuse the drive. */
function recordOf(place: Place, car: string): CarRecord | null {
  try {
    return readRecord(place, car)
  } catch {
    return null
  }
}
