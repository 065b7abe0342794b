import { LIMITS } from '../../shared/limits.ts'
import type { Finding, Question, Review } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { assessed, notAssessed } from '../facts/answer.ts'
import { finding } from '../facts/finding.ts'
import type { OtherDrive } from '../history/told.ts'
import { aboutDrain, bled, CLEAR_OF_ERROR, chargeWords } from '../pack/models/drain-words.ts'
import { FLAT_V_PER_PERCENT } from '../pack/models/open-circuit.ts'
import { finishAgain } from '../review/finish.ts'
import { LEAST_DAYS, type PackDrains, restDrains } from './rest-drains.ts'

const ASK = 'Did a cell empty by itself since an earlier stored drive of this car?'
/** A fall beside the peers of this much a day is worth a note, mV: some 0.1 % of charge. Common practice, no source. */
const WORTH_MV_DAY = 1
/** So many earlier drives are looked at, the newest ones, no older than this: what a balancer did since is unknown. */
const MOST_DRIVES = 8
const MOST_DAYS = 120

/**
 * The review with what emptied by itself since the car's earlier drives: `cell-self-discharge`, against the one of them
 * that tells it most finely. A cell told so from a rest within the log keeps that finding alone.
 */
export function withEarlierRests(review: Review, earlier: readonly OtherDrive[], vehicle: Vehicle): Review {
  if (earlier.length === 0 || review.cells.length === 0) return review
  const compared = earlier.slice(-MOST_DRIVES).flatMap(({ review: then, name }) => {
    const drains = restDrains(then, review, vehicle)
    return drains && drains.days < MOST_DAYS ? [{ drains, name }] : []
  })
  const [first] = compared.sort((a, b) => a.drains.usualError - b.drains.usualError)
  if (!first) {
    const question = notAssessed(
      'pack',
      ASK,
      [],
      'no earlier stored drive of this car rested long enough before this one, with cells and date told',
      `Begin the log before the car is switched on, with its date, and keep a drive at least ${LEAST_DAYS * 24} hours later.`,
      'mV/day',
    )
    return finishAgain({ ...review, questions: [...review.questions, question] })
  }
  const { drains, name } = first
  const told = new Set(
    review.findings.flatMap(({ kind, subject }) => (kind === 'cell-self-discharge' ? [subject.index] : [])),
  )
  const findings = drains.cells
    .filter(({ cell, mvDay, error }) => mvDay > threshold(error) && !told.has(cell))
    .map((each) => drainFinding(drains, each, name, review))
  const loud = findings.some(({ severity }) => severity !== 'note')
  return finishAgain({
    ...review,
    questions: [...review.questions, drainQuestion(drains, name, loud)],
    findings: [...review.findings, ...findings],
  })
}

const threshold = (error: number): number => Math.max(WORTH_MV_DAY, CLEAR_OF_ERROR * error)

function drainQuestion(drains: PackDrains, since: string, loud: boolean): Question {
  const limit = LIMITS.selfDischarge.attention!
  const flat = drains.flat && drains.slopeV !== null && drains.slopeV < FLAT_V_PER_PERCENT
  const words = `Against ${since}, ${daysText(drains.days)} before: ${drains.cells.length} cells compared at rest`
  if (flat && !loud)
    return notAssessed(
      'pack',
      ASK,
      [],
      `${words}, but at ${drains.medianV.toFixed(3)} V an iron phosphate cell loses charge and hardly any voltage`,
      'Keep a drive that begins after a full charge, where the voltage moves with charge.',
      'mV/day',
    )
  return assessed('pack', ASK, loud, `${words}.`, {
    value: Number(
      (Math.max(limit, threshold(drains.usualError)) + 1.2816 * drains.usualError).toPrecision(3),
    ),
    unit: 'mV/day',
    limit,
  })
}

const daysText = (days: number): string =>
  days < 2 ? `${(days * 24).toFixed(0)} hours` : `${days.toFixed(0)} days`

function drainFinding(
  drains: PackDrains,
  { cell, mvDay, error, above }: PackDrains['cells'][number],
  since: string,
  review: Review,
): Finding {
  const plusMinus = 1.96 * error
  const rest = review.cell_rest!
  const charge =
    drains.slopeV !== null && drains.slopeV > FLAT_V_PER_PERCENT
      ? chargeWords(mvDay, drains.slopeV, 'open-circuit curve')
      : ''
  return finding({
    kind: 'cell-self-discharge',
    subject: { type: 'cell', index: cell },
    span_s: [rest.span_s[0], rest.span_s[1]],
    value: mvDay,
    unit: 'mV/day',
    plusMinus,
    limit: LIMITS.selfDischarge,
    ...(above ? { severity: 'note' as const } : {}),
    headline: `Cell ${cell} fell ${mvDay.toFixed(mvDay < 10 ? 1 : 0)} ± ${plusMinus.toFixed(plusMinus < 10 ? 1 : 0)} mV a day beside its peers since an earlier drive${above ? '; or the balancer bled it' : ''}`,
    reason: `Both at rest, ${daysText(drains.days)} apart (${since}); what the other cells did in between, charging included, is taken out.${charge}${
      above
        ? ' It still stands above the others: a balancer would bleed such a cell.'
        : ' It stands below the others, where no balancer bleeds: a leak inside the cell, or something at its sense leads, drains it.'
    }`,
    ...aboutDrain(cell),
    rivals: above ? bled(cell, 'nothing in these logs', 'Log the balancing of each cell.') : [],
    channels: [`cell_voltage.${cell}`],
    question: ASK,
  })
}
