import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { INSIDE_BOX } from '../../facts/cautions.ts'
import type { Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { cellReadingFaults, type ReadingFault } from '../models/cell-reading-faults.ts'
import { milli } from '../models/cell-words.ts'

const QUESTION = 'Is every cell voltage really being read?'
/** Lost for longer than this, s, a reading needs looking at: common practice, no source. */
const ATTENTION_S = { frozen: 10, invalid: 2 }
const FEWEST_INVALID = 3

/**
 * Which cell voltages stood still or could not be?
 *
 * Model:  see `cellReadingFaults`.
 * Reads:  cell_voltage.* [V].
 * Gives:  `cell-reading-frozen` and `cell-reading-invalid` [time lost, s].
 * Biased by: a cell at rest, whose voltage truly stands still: only a pack that moves judges it.
 * Blind:  a frozen reading while the pack's voltages hardly moved; all cells frozen together (a gap of the log).
 * Source: common practice, no source.
 */
export function cellReadings(facts: Facts): Answer {
  const seen = facts.once(cellReadingFaults)
  if (!seen)
    return {
      questions: [
        notAssessed(
          'pack',
          QUESTION,
          ['cell_voltage'],
          'the log has no cell voltages',
          'Log every cell voltage.',
          's',
        ),
      ],
      findings: [],
    }
  const findings = seen.faults
    .filter((fault) => fault.kind === 'frozen' || fault.count >= FEWEST_INVALID)
    .map((fault) => {
      const { kind, cell, lostS } = fault
      return finding({
        kind: `cell-reading-${kind}`,
        subject: { type: 'cell', index: cell },
        span_s: fault.span_s,
        value: lostS,
        unit: 's',
        limit: { attention: ATTENTION_S[kind], stop: null, unit: 's', source: 'common practice, no source' },
        headline:
          kind === 'frozen'
            ? `The reading of cell ${cell} stood still for ${lostS.toFixed(0)} s`
            : `The reading of cell ${cell} could not be believed for ${lostS.toFixed(1)} s`,
        reason: why(fault),
        next_step: `Have qualified people look at the sense lead of cell ${cell}, its connector and its measuring board. Until then this cell is unwatched.`,
        cautions: [INSIDE_BOX],
        channels: [`cell_voltage.${cell}`],
      })
    })
  return {
    questions: [
      assessed(
        'pack',
        QUESTION,
        findings.some((each) => each.severity !== 'note'),
        `a standing reading shows once its peers have moved by ${milli(seen.smallestMoveV, 1)} mV`,
        { value: ATTENTION_S.frozen, unit: 's' },
      ),
    ],
    findings,
  }
}

function why({ kind, count, peersMovedV }: ReadingFault): string {
  return kind === 'frozen'
    ? `The same value stayed while its peers moved by ${milli(peersMovedV!, 0)} mV, ${count === 1 ? 'in one stretch' : `in ${count} stretches`}.`
    : `${count} readings were missing, outside 0.5 to 4.8 V, or far off their peers.`
}
