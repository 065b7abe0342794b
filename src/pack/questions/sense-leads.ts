import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { INSIDE_BOX } from '../../facts/cautions.ts'
import type { Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { cellOffsets } from '../models/cell-offsets.ts'
import { likelihoodRatio, milli } from '../models/cell-words.ts'

const QUESTION = 'Does a sense lead between two cells read off?'

/**
 * Which sense lead shifts one cell up and its neighbour down?
 *
 * Model:  offset(k) = +e, offset(k + 1) = −e at any current; see `cellOffsets`.
 * Reads:  cell_voltage.* [V]; pack_current [A] where there is one, to take the load out.
 * Gives:  `sense-lead-offset` [mV of the lower cell, signed] with a 95 % interval.
 * Biased by: a resistance of one of the two cells, where the load is not taken out well.
 * Blind:  the first and the last lead of the pack or of a measuring board (one cell alone is off: reads as imbalance).
 * Source: Kirchhoff's voltage law; limit in `LIMITS.senseLead`.
 */
export function senseLeads(facts: Facts): Answer {
  const offsets = facts.once(cellOffsets)
  if (!offsets)
    return {
      questions: [
        notAssessed(
          'pack',
          QUESTION,
          ['cell_voltage'],
          'no cell voltages, or neither a rest nor a load to read them by',
          'Log every cell voltage from before the key is turned.',
          'mV',
        ),
      ],
      findings: [],
    }
  const limitMv = facts.limits.senseLead.attention ?? 8
  const findings = offsets.pairs.map((pair) => {
    const value = pair.offsetV * 1e3
    const plusMinus = 1.96 * pair.error * 1e3
    const down = value < 0
    const rest = pair.atRestV === null ? '' : ` At rest it is ${milli(pair.atRestV, 1)} mV.`
    return finding({
      kind: 'sense-lead-offset',
      subject: { type: 'cell-pair', index: pair.cell, between_cells: [pair.cell, pair.cell + 1] },
      span_s: [0, facts.drive.durationS],
      value,
      unit: 'mV',
      plusMinus,
      limit: { ...facts.limits.senseLead, attention: down ? -limitMv : limitMv },
      bad: down ? 'below' : 'above',
      headline: `The sense lead between cells ${pair.cell} and ${pair.cell + 1} reads ${Math.abs(value).toFixed(1)} ± ${plusMinus.toFixed(1)} mV off`,
      reason: `Cell ${pair.cell} reads ${Math.abs(value).toFixed(1)} mV too ${down ? 'low' : 'high'} and cell ${pair.cell + 1} as much too ${down ? 'high' : 'low'}, at any current; their sum is right. Two cells out of balance would not cancel like that.${rest}`,
      next_step: `Have qualified people look at the sense lead between cells ${pair.cell} and ${pair.cell + 1}, its crimp and connector, and compare both cells with a meter, by the pack maker's procedure.`,
      cautions: [INSIDE_BOX],
      rivals: [
        {
          kind: 'cell-imbalance',
          subject: { type: 'cell', index: pair.cell },
          likelihood_ratio: likelihoodRatio(pair.logRatio),
          for: 'both cells stand off at rest',
          against: 'they stand off by the same amount in opposite directions',
          decided_by:
            'A meter across each of the two cells: a bad lead shows in the log only, an imbalance on the meter too.',
        },
      ],
      channels: [`cell_voltage.${pair.cell}`, `cell_voltage.${pair.cell + 1}`],
    })
  })
  const smallest = Math.max(limitMv, 5 * offsets.usualError * 1e3) + 1.2816 * offsets.usualError * 1e3
  return {
    questions: [
      assessed(
        'pack',
        QUESTION,
        findings.some((each) => each.severity !== 'note'),
        `each pair of neighbours compared; healthy offsets differ by ${milli(offsets.rest.spreadV, 1)} mV as a rule`,
        { value: Number(smallest.toFixed(2)), unit: 'mV', limit: facts.limits.senseLead.attention },
      ),
    ],
    findings,
  }
}
