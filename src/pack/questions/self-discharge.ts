import type { Finding } from '../../../shared/review.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { type AnyId, type Facts, family } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { type CellDrain, cellDrain, type DrainRest, FEWEST_CELLS } from '../models/cell-drain.ts'
import { cellTable } from '../models/cell-series.ts'
import { aboutDrain, bled, CLEAR_OF_ERROR, chargeWords } from '../models/drain-words.ts'
import { FLAT_V_PER_PERCENT, openCircuit, slopeAt } from '../models/open-circuit.ts'

const QUESTION = 'Does a cell empty by itself, without load?'

const OVER_NIGHT =
  'Leave the log running over night with the car switched off, after a drive; cell voltages every ten seconds are enough.'

/**
 * Does a cell empty by itself, without load?
 *
 * Model:  `cellDrain`: the steady fall beside the median cell in the longest rest, the way back after load taken out.
 * Reads:  cell_voltage.* [V], pack_current [A, discharge positive], balancing where logged; vehicle: chemistry, ocv.
 * Gives:  `cell-self-discharge` [mV a day beside its peers], attention at most; a note where the cell stands above the
 *         others and nothing tells whether it was bled.
 * Blind:  a fall that all cells share; charge on the flat part of an iron phosphate curve; a rest of minutes.
 * Biased by: a balancer whose work is not logged; sense leads that warm or cool at one end.
 * Source: limit in `LIMITS.selfDischarge`, common practice.
 */
export function selfDischarge(facts: Facts): Answer {
  const none = (missing: readonly AnyId[], why: string): Answer => ({
    questions: [notAssessed('pack', QUESTION, missing, why, OVER_NIGHT, 'mV/day')],
    findings: [],
  })
  if (family(facts, 'cell_voltage').length < FEWEST_CELLS)
    return none(['cell_voltage'], 'the log has too few cell voltages')
  const rest = facts.once(cellDrain)
  if (!rest)
    return none([], 'the log has no five minutes without load in which every cell was read and none was bled')
  const limit = facts.limits.selfDischarge.attention!
  const threshold = (error: number): number => Math.max(limit, CLEAR_OF_ERROR * error)
  const findings = rest.cells
    .filter(({ mvDay, error, lasts }) => lasts && mvDay > threshold(error))
    .map((each) => drainFinding(facts, rest, each))
  const loud = findings.some((each) => each.severity !== 'note')
  const curve = openCircuit(facts.vehicle, rest.medianV)
  if (!loud && curve?.flatLfp && slopeAt(curve, rest.medianV) < FLAT_V_PER_PERCENT)
    return {
      questions: [
        notAssessed(
          'pack',
          QUESTION,
          [],
          `the pack rests at ${rest.medianV.toFixed(3)} V, on the flat part of the ${curve.source}: a cell can lose much charge there and hardly any voltage`,
          'Leave the log running over night after a full charge, where the voltage moves with charge.',
          'mV/day',
        ),
      ],
      findings,
    }
  return {
    questions: [
      assessed('pack', QUESTION, loud, `${restWords(rest)}, every cell against the others of its module.`, {
        value: Number((threshold(rest.usualError) + 1.2816 * rest.usualError).toPrecision(3)),
        unit: 'mV/day',
        limit,
        toAssess: OVER_NIGHT,
      }),
    ],
    findings,
  }
}

function restWords({ span_s }: DrainRest): string {
  const minutes = (span_s[1] - span_s[0]) / 60
  return minutes < 120
    ? `${minutes.toFixed(0)} min without load`
    : `${(minutes / 60).toFixed(1)} h without load`
}

function drainFinding(facts: Facts, rest: DrainRest, { cell, mvDay, error, above }: CellDrain): Finding {
  const plusMinus = 1.96 * error
  const mayBeBled = above && facts.once(cellTable).balancingLogged === 'no'
  const curve = openCircuit(facts.vehicle, rest.medianV)
  const slope = curve ? slopeAt(curve, rest.medianV) : 0
  const charge = slope > FLAT_V_PER_PERCENT ? chargeWords(mvDay, slope, curve!.source) : ''
  return finding({
    kind: 'cell-self-discharge',
    subject: { type: 'cell', index: cell },
    span_s: rest.span_s,
    value: mvDay,
    unit: 'mV/day',
    plusMinus,
    limit: facts.limits.selfDischarge,
    ...(mayBeBled ? { severity: 'note' as const } : {}),
    headline: `Cell ${cell} falls ${mvDay.toFixed(0)} ± ${plusMinus.toFixed(0)} mV a day beside its peers without load${mayBeBled ? '; or the balancer bleeds it' : ''}`,
    reason: `In ${restWords(rest)} it went on falling at an even pace; what is left of driving dies away, this did not.${charge}${mayBeBled ? ' It stands above the others, and balancing is not logged: bleeding looks the same.' : ' A leak inside the cell, or something at its sense leads, drains it.'}`,
    ...aboutDrain(cell),
    rivals: mayBeBled
      ? bled(
          cell,
          'nothing in this log',
          'Log the balancing of each cell, or rest the pack with balancing off by the maker’s procedure.',
        )
      : [],
    channels: [`cell_voltage.${cell}`, 'pack_current'],
    question: QUESTION,
  })
}
