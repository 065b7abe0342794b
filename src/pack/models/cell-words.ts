import type { Kind } from '../../../shared/kinds.ts'
import type { Finding, Subject } from '../../../shared/review.ts'
import type { ResistanceVerdict } from './cell-causes.ts'
import type { CellFit } from './cell-fit.ts'
import type { ResistanceCause } from './resistance-evidence.ts'

/** Words and half-widths that the cell analyses share. */

export const milli = (value: number, digits = 2): string => (value * 1e3).toFixed(digits)

/** Half of the 95 % interval of the cause: 1.96 standard errors, and the current sensor's gain tolerance. */
export function halfWidth(value: number, error: number, gainPercent: number): number {
  return Math.hypot(1.96 * error, (gainPercent / 100) * value)
}

/** What was measured, by its time scale: `ohmic` is claimed only where the log is fast enough to tell. */
export function timeScale(fit: CellFit): string {
  return fit.windowS <= 1
    ? 'at once with the current'
    : `within ${fit.windowS.toFixed(0)} s of a change of current (this log is too slow to say more)`
}

const KIND: Readonly<Record<Exclude<ResistanceCause, 'joint-and-weak'>, Kind>> = {
  joint: 'joint-resistance-high',
  weak: 'cell-weak',
  open: 'parallel-cell-open',
  tap: 'sense-tap-misplaced',
}

const DECIDED_BY_METER =
  'A micro-ohm meter across the joint, against the joints beside it: a bad joint shows there, a weak cell does not.'

/** More than a million times better is written as a million: beyond that the model's own faults decide. */
export function likelihoodRatio(logDifference: number): number {
  return Number(Math.exp(Math.min(logDifference, Math.log(1e6))).toPrecision(3))
}

/** Two faults at one place are a rival only where they explain the figures up to this many times worse. */
const FAR_FETCHED = 1000
/** A rival that explains the figures less than this many times worse is named beside the cause. */
const UNDECIDED = 10

/** The causes that were weighed against the one named, each with what speaks for and against it. */
export function resistanceRivals(
  verdict: ResistanceVerdict,
  named: ResistanceCause,
  subjectOf: (cause: ResistanceCause) => Subject,
): Finding['rivals'] {
  const best = verdict.explanations.find((each) => each.cause === named)!
  return verdict.explanations
    .filter((each) => each.cause !== named && !(named === 'joint-and-weak' && each.cause === 'tap'))
    .map((rival) => ({ ...rival, ratio: likelihoodRatio(best.logEvidence - rival.logEvidence) }))
    .filter((rival) => rival.cause !== 'joint-and-weak' || rival.ratio < FAR_FETCHED)
    .map(({ cause, ratio }) => {
      // of two faults at once, the one that is not named yet
      const other = cause === 'joint-and-weak' ? (named === 'joint' ? 'weak' : 'joint') : cause
      return {
        kind: KIND[other],
        subject: subjectOf(other),
        likelihood_ratio: ratio,
        ...speaks(verdict, cause),
        ...(named === 'tap'
          ? { against: 'it leaves unexplained that a neighbour reads better by the same amount' }
          : {}),
        decided_by: DECIDED_BY_METER,
      }
    })
}

/**
 * What else this drive leaves open: the cause that explains the figures nearly as well as the one named, in words for
 * headline and reason; both empty where the drive tells.
 * @param place of the joint that is read with the cell
 */
export function leftOpen(
  { cell, explanations }: ResistanceVerdict,
  place: string,
): { headline: string; reason: string } {
  const [best, ...others] = explanations
  const near = others.filter((each) => best!.logEvidence - each.logEvidence < Math.log(UNDECIDED))
  const [next] = near
  if (!next || next.cause === 'tap') return { headline: '', reason: '' }
  const joint = `${place} adds ${milli(next.jointOhm)} ± ${milli(1.96 * next.jointError)} mΩ`
  const weak = `cell ${cell} has ${next.ratio.toFixed(2)} times the resistance of its peers`
  const words = {
    joint,
    weak,
    'joint-and-weak': `both: ${joint}, and ${weak}`,
    open: `a parallel cell of cell ${cell} does not carry`,
  }[next.cause]
  const ratio = likelihoodRatio(best!.logEvidence - next.logEvidence)
  return {
    headline: `; or ${words}`,
    reason: ` This drive hardly tells it from another cause: that ${words} explains the readings only ${ratio.toFixed(1)} times worse. The micro-ohm meter decides.`,
  }
}

/** A slow part or bend that is less than this share of the extra speaks for no cause. */
const SOME = 0.12

/** What the figures say for and against a cause. */
export function speaks(verdict: ResistanceVerdict, cause: ResistanceCause): { for: string; against: string } {
  const { ohmic, slow, bend } = verdict.against
  const fast = `the drop that follows the current at once is ${milli(ohmic.value)} mΩ above its peers`
  const slowGrown = slow.value > 3 * slow.error && slow.value > SOME * ohmic.value
  const bent = bend.value > 4 * bend.error && bend.value > SOME * ohmic.value
  const slowWords = slowGrown
    ? `the slower part is ${milli(slow.value)} mΩ above its peers too`
    : `the slower part is as in its peers (${milli(slow.value, 3)} ± ${milli(1.96 * slow.error, 3)} mΩ)`
  const bendWords = bent
    ? '; the extra falls as the current rises, as a cell’s own does and metal’s does not'
    : ''
  const both = verdict.explanations.find((each) => each.cause === 'joint-and-weak')
  const own = slowGrown || bent
  switch (cause) {
    case 'joint':
      return own
        ? { for: fast, against: `${slowWords}${bendWords}` }
        : { for: `${fast}; ${slowWords}`, against: 'nothing in this log' }
    case 'weak':
      return own
        ? { for: `${fast}; ${slowWords}${bendWords}`, against: 'nothing in this log' }
        : { for: fast, against: slowWords }
    case 'open':
      return {
        for: `${fast}; ${slowWords}`,
        against:
          'then the drop at once, the slower drop and the fall with charge would all have grown by the share of a missing cell',
      }
    case 'joint-and-weak':
      return {
        for: `${fast}; ${slowWords}: a joint of ${milli(both?.jointOhm ?? 0)} mΩ and a cell of ${(both?.ratio ?? 1).toFixed(2)} times its peers at once would read like that`,
        against: 'it takes two faults at one place',
      }
    case 'tap':
      return {
        for: 'a neighbour reads better by as much as this cell reads worse',
        against: 'a neighbour that merely is a good cell',
      }
  }
}
