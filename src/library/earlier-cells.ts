import type { DriveSummary } from '../../shared/api.ts'
import type { CellRow, Finding, Review } from '../../shared/review.ts'
import { type CellGrowth, cellGrowth, type PackGrowth } from '../history/cell-growth.ts'
import type { OtherDrive } from '../history/told.ts'
import { showDrive } from './library.ts'
import type { Place } from './place.ts'

/** So many of the car's drives before this one stand beside it. */
const MOST_EARLIER = 20
const MOST_TOLD = 5

export interface EarlierDrive extends OtherDrive {
  readonly summary: DriveSummary
}

/**
 * Those of a car's other stored drives that were before this one, the oldest first.
 * @param replaces the stored drive that this one replaces: what was added after it is not earlier
 */
export function earlierDrives(
  place: Place,
  others: readonly DriveSummary[],
  review: Review,
  replaces?: { readonly addedAt: string },
): EarlierDrive[] {
  const startedAt = review.drive.started_at
  const before = others
    .filter((each) =>
      startedAt !== null && each.started_at !== null
        ? Date.parse(each.started_at) < Date.parse(startedAt)
        : !replaces || each.added_at < replaces.addedAt,
    )
    .sort(inTime)
  return before.slice(-MOST_EARLIER).flatMap((summary) => opened(place, summary))
}

/** The drive's review with its name; none where it cannot be read: that is no reason to refuse the new one. */
export function opened(place: Place, summary: DriveSummary): EarlierDrive[] {
  try {
    const { title, started_at } = summary
    const when = started_at === null ? '' : ` of ${started_at.slice(0, 16).replace('T', ' ')}`
    return [{ summary, review: showDrive(place, summary.id).review, name: `${title}${when}` }]
  } catch {
    return []
  }
}

/** The oldest first; of two of one moment by their logs, so that the order is always the same. */
export const inTime = (a: DriveSummary, b: DriveSummary): number =>
  moment(a) - moment(b) || (sha(a) < sha(b) ? -1 : 1)

const sha = ({ files }: DriveSummary): string => files.map(({ sha256 }) => sha256).join()

const moment = ({ started_at, added_at }: { started_at: string | null; added_at: string }): number =>
  Date.parse(started_at ?? added_at)

/**
 * The review with what each joint and cell gained since the last drive that tells it: a figure by the cell, a sentence in
 * the finding that is there already. What is a change is told over all earlier drives (`history/told.ts`).
 */
export function withEarlierCells(review: Review, earlier: readonly OtherDrive[]): Review {
  const last = earlier.findLast((each) => each.review.cells.length > 0)
  const growth = last && cellGrowth(last.review, review)
  if (!growth) return review
  const byCell = new Map(growth.cells.map((each) => [each.cell, each]))
  const cells = review.cells.map((row): CellRow => {
    const own = byCell.get(row.index)
    if (!own) return row
    return { ...row, growth_mohm: own.changeMohm, growth_mohm_plus_minus: own.plusMinus }
  })
  const findings = review.findings.map((each): Finding => {
    const own = growth.cells.find(
      ({ cell, certain, changeMohm }) =>
        certain && changeMohm > 0 && ABOUT_CELL.test(each.kind) && each.subject.index === cell,
    )
    return own ? { ...each, reason: `${each.reason} Since ${last.name} it gained ${amount(own)}.` } : each
  })
  return { ...review, cells, findings }
}

/** Findings whose subject is the joint or cell of that number, and which a growth of resistance concerns. */
export const ABOUT_CELL = /^(joint-resistance-high|cell-weak|parallel-cell-open)$/

const amount = ({ changeMohm, plusMinus }: CellGrowth): string =>
  `${changeMohm.toFixed(3)} ± ${plusMinus.toFixed(3)} mΩ`

/** What grew, what fell and how small a growth would have shown, in a sentence or two. */
export function growthWords(
  { cells, smallestMohm, typicalMohm: [then, now] }: PackGrowth,
  since: string,
): string {
  const list = (sign: 1 | -1): string =>
    cells
      .filter((each) => each.certain && each.changeMohm * sign > 0)
      .sort((a, b) => (b.changeMohm - a.changeMohm) * sign)
      .slice(0, MOST_TOLD)
      .map(
        (each) =>
          `cell ${each.cell} (joint or cell) by ${amount({ ...each, changeMohm: Math.abs(each.changeMohm) })}`,
      )
      .join(', ')
  const more = list(1)
  const less = list(-1)
  const percent = Math.round(Math.abs(now / then - 1) * 100)
  const pack =
    percent < 1
      ? 'the typical cell has the same resistance as then'
      : `the typical cell has ${percent} % ${now > then ? 'more' : 'less'} resistance than then, as warmth and charge make it; that is taken out`
  return (
    `Against ${since}: ${more ? `grown: ${more}` : 'no joint or cell has grown beyond its error'}.` +
    `${less ? ` Fallen: ${less}.` : ''} ${cells.length} cells compared; ${pack}. ` +
    `A growth of ${smallestMohm.toFixed(3)} mΩ at a cell like its peers would have shown 9 times in 10.`
  )
}
