import type { CellRow, Finding, Review } from '../../shared/review.ts'
import { assessed } from '../facts/answer.ts'
import { HOT_JOINT, INSIDE_BOX } from '../facts/cautions.ts'
import { finding } from '../facts/finding.ts'
import { finishAgain } from '../review/finish.ts'
import { tidy } from '../review/tidy.ts'
import { type CellGrowth, cellGrowth, type PackGrowth } from './cell-growth.ts'
import { otherDrivesOf, showDrive } from './library.ts'
import type { Place } from './place.ts'

const ASK = 'Has a joint or cell gained resistance since this car’s last stored drive?'
/** Growth from here on is worth opening the box for, as a joint of that size is, mΩ: common practice, no source. */
const WORTH_MOHM = 0.15
const MOST_TOLD = 5

export interface EarlierDrive {
  readonly review: Review
  /** Its title and when it began, for people. */
  readonly name: string
}

/**
 * The car's last stored drive before this one that has cells; a drive of the same logs is not another.
 * @param replaces the stored drive that this one replaces: what was added after it is not earlier
 */
export function earlierCells(
  place: Place,
  car: string | undefined,
  review: Review,
  replaces?: { readonly id: string; readonly addedAt: string },
): EarlierDrive | null {
  if (review.cells.length === 0) return null
  const startedAt = review.drive.started_at
  const before = otherDrivesOf(place, car, review, replaces?.id)
    .filter((each) =>
      startedAt !== null && each.started_at !== null
        ? Date.parse(each.started_at) < Date.parse(startedAt)
        : !replaces || each.added_at < replaces.addedAt,
    )
    .sort((a, b) => moment(b) - moment(a))
  for (const { id, title, started_at } of before) {
    try {
      const earlier = showDrive(place, id).review
      const when = started_at === null ? '' : ` of ${started_at.slice(0, 16).replace('T', ' ')}`
      if (earlier.cells.length > 0) return { review: earlier, name: `${title}${when}` }
    } catch {
      // A stored drive that cannot be read is no reason to refuse the new one.
    }
  }
  return null
}

const moment = ({ started_at, added_at }: { started_at: string | null; added_at: string }): number =>
  Date.parse(started_at ?? added_at)

/**
 * The review with what each joint and cell gained since the earlier drive: a figure by the cell, a sentence in the finding
 * that is there already, else a finding of its own; `attention` from 0.15 mΩ on, else a note.
 */
export function withEarlierCells(review: Review, earlier: EarlierDrive | null): Review {
  const growth = earlier && cellGrowth(earlier.review, review)
  if (!growth) return review
  const byCell = new Map(growth.cells.map((each) => [each.cell, each]))
  const cells = review.cells.map((row): CellRow => {
    const own = byCell.get(row.index)
    if (!own) return row
    return { ...row, growth_mohm: own.changeMohm, growth_mohm_plus_minus: own.plusMinus }
  })
  const rows = new Map(cells.map((row) => [row.index, row]))
  const grown = growth.cells.filter((each) => each.certain && each.changeMohm > 0)
  /** Cell → the finding that it is told in. */
  const told = new Map<number, string>()
  const findings = review.findings.map((each): Finding => {
    const own = grown.find(({ cell }) => ABOUT_CELL.test(each.kind) && each.subject.index === cell)
    if (!own) return each
    told.set(own.cell, each.id)
    return { ...each, reason: `${each.reason} Since ${earlier.name} it gained ${amount(own)}.` }
  })
  for (const own of grown)
    findings.push({
      ...grownFinding(own, rows.get(own.cell)!, earlier.name, review),
      explained_by: told.get(own.cell) ?? null,
    })
  const question = assessed('pack', ASK, grown.length > 0, growthWords(growth, earlier.name), {
    value: Number(growth.smallestMohm.toPrecision(3)),
    unit: 'mΩ',
  })
  return tidy(finishAgain({ ...review, cells, questions: [...review.questions, question], findings }))
}

/** Findings whose subject is the joint or cell of that number, and which a growth of resistance concerns. */
const ABOUT_CELL = /^(joint-resistance-high|cell-weak|parallel-cell-open)$/

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

function grownFinding(own: CellGrowth, row: CellRow, since: string, review: Review): Finding {
  const place = row.between_cells
    ? `the joint between cells ${row.between_cells.join(' and ')}, or in cell ${own.cell} itself`
    : `a joint beside cell ${own.cell}, or in the cell itself`
  return finding({
    kind: 'resistance-grown',
    subject: { type: 'cell', index: own.cell },
    span_s: [0, review.drive.duration_s],
    value: own.changeMohm,
    unit: 'mΩ',
    plusMinus: own.plusMinus,
    limit: { attention: WORTH_MOHM, stop: null, unit: 'mΩ', source: 'common practice, no source' },
    headline: `Cell ${own.cell} or its joint gained ${amount(own)} since the last drive`,
    reason: `Against ${since} the reading of cell ${own.cell} drops that much more per ampere, its peers' change taken out. It came in ${place}; growth is no matter of how the pack was built.`,
    next_step: `Compare again after the next drive. Where it goes on growing, have the box opened by qualified people and measure the joints beside cell ${own.cell} with a micro-ohm meter first.`,
    cautions: [INSIDE_BOX, HOT_JOINT],
    channels: [`cell_voltage.${own.cell}`, 'pack_current'],
    question: ASK,
  })
}
