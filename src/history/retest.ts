import type { CellRow, Finding, Question, Review } from '../../shared/review.ts'
import { figureText, numberText, smallestFigure, unitWord, withInterval } from '../../shared/wording.ts'
import { type CellGrowth, cellGrowth } from './cell-growth.ts'

export const RETEST_STATES = ['not-seen', 'smaller', 'same', 'larger', 'not-looked-for'] as const
export type RetestState = (typeof RETEST_STATES)[number]

/** What a later drive says of a finding of an earlier one. */
export interface Retest {
  readonly state: RetestState
  readonly sentence: string
  readonly before: number | null
  readonly after: number | null
  readonly change: number | null
  readonly plus_minus: number | null
  readonly unit: string
  /** The smallest fault that the later drive would have shown, and how often. */
  readonly smallest_seen: number | null
  readonly chance: number | null
}

/** Findings of a cell's place: what one drive reads as a joint, another may read as the cell beside it. */
const AT_CELL = /^(joint-resistance-high|cell-weak|parallel-cell-open|long-busbar)$/
/** Of those, the ones whose figure is a resistance in mΩ that the cell's row and its growth tell. */
const BY_RESISTANCE = /^joint-resistance-high$/

/**
 * Is a finding still there in a later drive of the car?
 *
 * Model:  the later review's own findings and questions decide what is seen; the change of its figure is told with its
 *         interval: for joints by `cellGrowth` (peers' warmth and charge taken out), else the difference of both figures,
 *         errors added in squares.
 * Gives:  not seen any more (with the smallest fault that would have shown), smaller, the same, larger; or that it could not
 *         be looked for, and why.
 * Blind:  a fault that shows only at times; what neither drive assessed.
 */
export function retest(finding: Finding, before: Review, after: Review): Retest {
  const now = after.findings.find((each) => samePlace(finding, each))
  const question = questionOf(finding, after)
  const growth = AT_CELL.test(finding.kind) ? growthAt(finding, before, after) : null
  const figures = figuresOf(finding, now, growth, after)
  if (now) {
    const state = movedBy(figures)
    const change = changeWords(figures)
    const other = now.kind === finding.kind ? '' : ` It is read as another cause now: ${now.headline}.`
    return made(
      state,
      `${STILL[state]}: ${now.value === null ? now.headline : figureText(now)}${change}.${other}`,
      figures,
    )
  }
  if (!question || question.state === 'not-assessed')
    return made(
      'not-looked-for',
      question
        ? `Could not be looked for: ${plain(question.why)}.${question.to_assess ? ` To look: ${plain(question.to_assess)}.` : ''}`
        : 'Could not be looked for: the later drive was not asked this.',
      { ...figures, after: null, change: null, plusMinus: null },
    )
  // seconds that a start would have shown say nothing of attempts that failed
  const alike = unitWord(question.unit) === unitWord(finding.unit) || finding.value === null
  const shown = alike ? smallestFigure(question) : null
  const came = finding.kind === 'no-drive' ? startsWords(after) : ''
  const read =
    figures.after === null
      ? ''
      : ` It reads ${withInterval(figures.after, figures.afterPlusMinus, unitWord(figures.unit))}${changeWords(figures)}.`
  return {
    ...made(
      'not-seen',
      `Not seen any more${shown ? `; ${shown} would have shown` : ''}${came}.${read}`,
      figures,
    ),
    smallest_seen: alike ? question.smallest_seen : null,
    chance: alike ? question.chance : null,
  }
}

function startsWords({ starts }: Review): string {
  if (starts.length === 0) return ''
  const through = starts.filter(({ reached }) => reached === 'ready' || reached === 'driving').length
  return `; ${through} of ${starts.length} ${starts.length === 1 ? 'attempt' : 'attempts'} to start came through`
}

const STILL: Readonly<Record<'smaller' | 'same' | 'larger', string>> = {
  smaller: 'Still seen, smaller',
  same: 'Still seen, the same within its error',
  larger: 'Still seen, larger',
}

const plain = (text: string): string => text.trim().replace(/[.;:\s]+$/, '')

function samePlace(a: Finding, b: Finding): boolean {
  const subjects = [b.subject, ...b.also.map(({ subject }) => subject)]
  if (a.kind === b.kind)
    return subjects.some(
      (each) =>
        each.type === a.subject.type && each.index === a.subject.index && each.name === a.subject.name,
    )
  return (
    AT_CELL.test(a.kind) &&
    AT_CELL.test(b.kind) &&
    b.kind !== 'long-busbar' &&
    a.subject.index !== undefined &&
    subjects.some((each) => each.index === a.subject.index)
  )
}

function questionOf(finding: Finding, after: Review): Question | undefined {
  const same = after.questions.find((each) => each.question === finding.question)
  if (same) return same
  const other = after.findings.find((each) => each.kind === finding.kind)
  return after.questions.find((each) => each.question === other?.question)
}

interface Figures {
  readonly before: number | null
  readonly after: number | null
  readonly afterPlusMinus: number | null
  readonly change: number | null
  readonly plusMinus: number | null
  readonly unit: string
}

function figuresOf(
  finding: Finding,
  now: Finding | undefined,
  growth: CellGrowth | null,
  after: Review,
): Figures {
  const { value: was, plus_minus: wasPm, unit } = finding
  const row: CellRow | undefined =
    BY_RESISTANCE.test(finding.kind) && finding.subject.index !== undefined
      ? after.cells.find(({ index }) => index === finding.subject.index)
      : undefined
  const alike = now?.kind === finding.kind
  const is = row?.joint_extra_mohm ?? (alike ? now.value : null)
  const isPm = row ? row.joint_extra_mohm_plus_minus : alike ? now.plus_minus : null
  const frame = { before: was, after: is, afterPlusMinus: isPm, unit }
  if (growth && unit === 'mΩ') return { ...frame, change: growth.changeMohm, plusMinus: growth.plusMinus }
  const change = was === null || is === null ? null : is - was
  return { ...frame, change, plusMinus: wasPm === null || isPm === null ? null : Math.hypot(wasPm, isPm) }
}

function growthAt(finding: Finding, before: Review, after: Review): CellGrowth | null {
  return cellGrowth(before, after)?.cells.find(({ cell }) => cell === finding.subject.index) ?? null
}

function movedBy({ change, plusMinus, before }: Figures): 'smaller' | 'same' | 'larger' {
  if (change === null || plusMinus === null || Math.abs(change) <= plusMinus) return 'same'
  // a figure below nothing (torque, offsets) is smaller where it comes nearer to nothing
  const sign = before !== null && before < 0 ? -1 : 1
  return change * sign > 0 ? 'larger' : 'smaller'
}

function changeWords({ change, plusMinus, unit, before }: Figures): string {
  if (change === null) return ''
  const was = before === null ? '' : ` from ${numberText(before)} ${unitWord(unit)}`
  const by = withInterval(Math.abs(change), plusMinus, unitWord(unit))
  return `, changed${was} by ${change < 0 ? '−' : '+'}${by}`
}

const made = (state: RetestState, sentence: string, figures: Figures): Retest => ({
  state,
  sentence,
  before: figures.before,
  after: figures.after,
  change: figures.change,
  plus_minus: figures.plusMinus,
  unit: figures.unit,
  smallest_seen: null,
  chance: null,
})
