import type { CellRow, Finding, Question, Review } from '../../shared/review.ts'
import { numberText, unitWord, withInterval } from '../../shared/wording.ts'
import { assessed, notAssessed } from '../facts/answer.ts'
import { HOT_JOINT, INSIDE_BOX } from '../facts/cautions.ts'
import { finding } from '../facts/finding.ts'
import { packReading } from './cell-series.ts'
import { type CellChange, changeTest } from './change-test.ts'
import { type FigureAmong, figuresAmong } from './figure-test.ts'
import { driveFigures } from './figures.ts'
import { type CellAmong, FEWEST_OTHERS, unlikeOthers } from './kit-test.ts'

/** A review of the car's past, or of another car. */
export interface OtherDrive {
  readonly review: Review
  /** Its title and when it began, for people. */
  readonly name: string
}

/** What the comparison adds to a review. */
export interface Told {
  readonly questions: Question[]
  readonly findings: Finding[]
}

/** A change from here on is worth opening the box for, as a joint of that size is, mΩ: common practice, no source. */
const WORTH_MOHM = 0.15
const WORTH = { attention: WORTH_MOHM, stop: null, unit: 'mΩ', source: 'common practice, no source' } as const
/** Of what is told of figures beside the cells, at most this share falsely. */
const FIGURE_SHARE = 0.01
export const CHANGED = 'Has a joint, cell or figure of this car changed over its stored drives?'
export const UNLIKE = 'Is a joint, cell or figure of this car unlike the other cars of its kit?'

/**
 * `changed-since-last-drive`: this drive against all earlier drives of the car.
 * @param earlier the oldest first
 * @param since cell → first of `earlier` that counts for it (mended since): its length means none
 */
export function toldChanges(
  review: Review,
  earlier: readonly OtherDrive[],
  since: ReadonlyMap<number, number> = new Map(),
): Told {
  if (earlier.length === 0) return { questions: [], findings: [] }
  const packs = [...earlier.map((each) => each.review), review].map(packReading)
  const known = packs.filter((each) => each !== null)
  const shifted = new Map(
    [...since].map(([cell, first]) => [cell, packs.slice(0, first).filter((each) => each !== null).length]),
  )
  const change = packs.at(-1) ? changeTest(known, shifted) : null
  const changed = (change?.cells ?? []).filter((each) => each.changed)
  const figures = figuresAmong(
    driveFigures(review),
    earlier.map((each) => driveFigures(each.review)),
    FIGURE_SHARE,
  ).filter(({ told }) => told)
  const from =
    earlier.length === 1 ? earlier[0]!.name : `${earlier.length} earlier drives since ${earlier[0]!.name}`
  const findings = [
    ...changed.map((each) => cellFinding(each, review, from)),
    ...figures.map((each) => figureFinding(each, review, from)),
  ]
  const why = [
    `Against ${from}.`,
    change
      ? `${change.cells.length} cells compared at this drive's warmth and charge (the typical cell: ${change.typicalMohm.map((each) => numberText(each)).join(', ')} mΩ).`
      : 'No cells could be compared: too few resistances over about the same time scale.',
    change?.smallestSlopeMohm
      ? `A growth of ${numberText(change.smallestSlopeMohm)} mΩ a drive would have shown.`
      : '',
    earlier.length < 4 ? 'Figures beside the cells need four earlier drives.' : '',
  ].filter(Boolean)
  return {
    questions: [
      assessed('pack', CHANGED, findings.length > 0, why.join(' '), {
        value: change ? Number(change.smallestMohm.toPrecision(3)) : null,
        unit: 'mΩ',
      }),
    ],
    findings,
  }
}

function placeText(cell: number, row: CellRow | undefined): string {
  return row?.between_cells
    ? `the joint between cells ${row.between_cells.join(' and ')}, or in cell ${cell} itself`
    : `a joint beside cell ${cell}, or in the cell itself`
}

function cellFinding(change: CellChange, review: Review, from: string): Finding {
  const row = review.cells.find(({ index }) => index === change.cell)
  const { stepMohm, stepPlusMinus, slopeMohm, slopePlusMinus, drives } = change
  // a growth is told over all drives, so that a slow one is not told by its last step
  const grows =
    slopeMohm !== null && Math.abs(slopeMohm) / slopePlusMinus! > Math.abs(stepMohm) / stepPlusMinus
  const value = grows ? slopeMohm * drives : stepMohm
  const plusMinus = grows ? slopePlusMinus! * drives : stepPlusMinus
  const word = value > 0 ? 'gained' : 'lost'
  const size = withInterval(Math.abs(value), plusMinus, 'mΩ')
  const slow = grows ? `, ${withInterval(slopeMohm, slopePlusMinus, 'mΩ')} a drive` : ''
  return finding({
    kind: 'changed-since-last-drive',
    subject: { type: 'cell', index: change.cell },
    span_s: [0, review.drive.duration_s],
    value,
    unit: 'mΩ',
    plusMinus,
    limit: WORTH,
    headline: `Cell ${change.cell} or its joint ${word} ${size} over ${drives === 1 ? 'the last drive' : `${drives} drives`}`,
    reason: `Against ${from} the reading of cell ${change.cell} changed by ${withInterval(value, plusMinus, 'mΩ')}${slow}, its peers' change with warmth and charge taken out. It lies in ${placeText(change.cell, row)}; a change is no matter of how the pack was built.`,
    next_step: `Compare again after the next drive. Where it goes on growing, have the box opened by qualified people and measure the joints beside cell ${change.cell} with a micro-ohm meter first.`,
    cautions: [INSIDE_BOX, HOT_JOINT],
    channels: [`cell_voltage.${change.cell}`, 'pack_current'],
    question: CHANGED,
  })
}

function figureFinding(among: FigureAmong, review: Review, from: string): Finding {
  const { figure, middle, low, high, above, plusMinus, others } = among
  const unit = unitWord(figure.unit)
  return finding({
    kind: 'changed-since-last-drive',
    subject: { ...figure.subject, name: figure.key },
    span_s: [0, review.drive.duration_s],
    value: above,
    unit: figure.unit,
    plusMinus,
    limit: null,
    severity: 'note',
    headline: `Not as in earlier drives: ${figure.words} is ${numberText(figure.value)} ${unit}, usually ${numberText(middle)} ${unit}`,
    reason: `Over ${others} drives (${from}) it lay between ${numberText(low)} and ${numberText(high)} ${unit}.`,
    next_step: 'Ask what was changed on the car since; then compare both drives figure by figure.',
    channels: figure.channels,
    question: CHANGED,
  })
}

/** `unlike-other-builds`: this car's drive against one drive of each other car of its kit, at like warmth and charge. */
export function toldUnlike(review: Review, kit: string, siblings: readonly OtherDrive[]): Told {
  if (siblings.length < FEWEST_OTHERS) return { questions: [tooFew(kit, siblings)], findings: [] }
  const pack = packReading(review)
  const packs = siblings.flatMap(({ review: other }) => packReading(other) ?? [])
  const among = pack ? unlikeOthers(pack, packs) : null
  const figures = figuresAmong(
    driveFigures(review),
    siblings.map((each) => driveFigures(each.review)),
    FIGURE_SHARE,
  )
  const findings = [
    ...(among?.cells ?? []).filter(({ unlike }) => unlike).map((each) => cellUnlike(each, review, kit)),
    ...figures.filter(({ told }) => told).map((each) => figureUnlike(each, review, kit)),
  ]
  const names = siblings.map(({ name }) => name).join('; ')
  const why = `Against ${siblings.length} other cars of the kit ${kit}, each by its drive most like this one in warmth and charge: ${names}.`
  const smallest = { value: among ? Number(among.smallestMohm.toPrecision(3)) : null, unit: 'mΩ' }
  return { questions: [assessed('pack', UNLIKE, findings.length > 0, why, smallest)], findings }
}

function tooFew(kit: string, siblings: readonly OtherDrive[]): Question {
  const count = siblings.length
  const names = siblings.map(({ name }) => name).join('; ')
  return notAssessed(
    'pack',
    UNLIKE,
    [],
    count === 0
      ? `no other car of the kit ${kit} has a stored drive`
      : `only ${count} other ${count === 1 ? 'car' : 'cars'} of the kit ${kit}: a place among so few says little, and nothing is called unlike by it (${names})`,
    'Store drives of more cars of this kit.',
    'mΩ',
  )
}

function cellUnlike(each: CellAmong, review: Review, kit: string): Finding {
  const row = review.cells.find(({ index }) => index === each.cell)
  const size = withInterval(Math.abs(each.aboveMohm), each.plusMinus, 'mΩ')
  const side = each.aboveMohm > 0 ? 'above' : 'below'
  return finding({
    kind: 'unlike-other-builds',
    subject: { type: 'cell', index: each.cell },
    span_s: [0, review.drive.duration_s],
    value: each.aboveMohm,
    unit: 'mΩ',
    plusMinus: each.plusMinus,
    limit: WORTH,
    headline: `Cell ${each.cell} or its joint reads ${size} ${side} the same place in ${each.cars - 1} other builds`,
    reason: `Place ${each.place} of ${each.cars} cars of the kit ${kit} (1 the highest), ${numberText(Math.abs(each.distance), 2)} times what such places differ by, at like warmth and charge. It lies in ${placeText(each.cell, row)}.`,
    next_step: `Compare with the car's next drive; then have the joints beside cell ${each.cell} measured with a micro-ohm meter by qualified people.`,
    cautions: [INSIDE_BOX, HOT_JOINT],
    channels: [`cell_voltage.${each.cell}`, 'pack_current'],
    question: UNLIKE,
  })
}

function figureUnlike(among: FigureAmong, review: Review, kit: string): Finding {
  const { figure, middle, low, high, above, plusMinus, place, others, distance } = among
  const unit = unitWord(figure.unit)
  return finding({
    kind: 'unlike-other-builds',
    subject: { ...figure.subject, name: figure.key },
    span_s: [0, review.drive.duration_s],
    ...{ value: above, unit: figure.unit, plusMinus, limit: null, severity: 'note' },
    headline: `Unlike the other builds: ${figure.words} is ${numberText(figure.value)} ${unit}, in ${others} others about ${numberText(middle)} ${unit}`,
    reason: `Place ${place} of ${others + 1} cars of the kit ${kit} (1 the highest), ${numberText(Math.abs(distance), 2)} times what they differ by; the others lie between ${numberText(low)} and ${numberText(high)} ${unit}.`,
    next_step:
      'Ask whether this car is built or set otherwise; then look at the part with the others beside it.',
    channels: figure.channels,
    question: UNLIKE,
  })
}
