import type { ChannelId } from '../../../shared/channels.ts'
import type { Finding } from '../../../shared/review.ts'
import { numberText } from '../../../shared/wording.ts'
import { UNIT_RESET } from '../../drive/cleaning/wake-readings.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { OUTSIDE_BOX } from '../../facts/cautions.ts'
import { absence, channel, type Facts, family } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { extremes, median } from '../../math/stats.ts'
import { linearAt } from '../../samples/on-one-clock.ts'

const QUESTION = 'Did a unit in the battery start again while the log ran?'

/**
 * Did a unit in the battery start again while the log ran?
 *
 * Model:  a scan that the ones before and after contradict on many channels at once (`drive/cleaning/wake-readings`).
 * Reads:  cell voltages, module temperatures; lv_voltage [V] and pack_current [A] at that moment.
 * Gives:  `node-silent` [s without a reading], attention; the moment's 12 V and current in its words.
 * Biased by: held rows, which repeat an odd scan.
 * Blind:  a unit that starts again without odd readings.
 * Source: common practice, no source.
 */
export function unitResets(facts: Facts): Answer {
  const read = [...family(facts, 'cell_voltage'), ...family(facts, 'module_temperature')]
  if (read.length < 4) {
    const why = 'fewer than four cells and module temperatures are logged'
    const to = 'Log the cell voltages and the module temperatures.'
    return {
      questions: [notAssessed('log', QUESTION, ['cell_voltage.1', 'module_temperature.1'], why, to)],
      findings: [],
    }
  }
  const resets = facts.drive.events.filter((event) => event.what.startsWith(UNIT_RESET))
  const findings =
    resets.length > 0
      ? [
          inWords(
            facts,
            resets.map((event) => event.at_s),
          ),
        ]
      : []
  return {
    questions: [
      assessed('log', QUESTION, findings.length > 0, `${read.length} readings a scan.`, {
        value: 1,
        unit: 'scan',
      }),
    ],
    findings,
  }
}

/** A sag of the 12 V this deep, around the moment, is worth its words, V; and looked for so long before and after, s. */
const SAG_V = 1
const BEFORE_S = 1
const AFTER_S = 0.5

/** The 12 V's lowest reading around the moment, where it lies well under its usual one; null else. */
function sagBefore(facts: Facts, atS: number): { low: number; usual: number } | null {
  const lv = channel(facts, 'lv_voltage')
  if (!lv) return null
  const near = lv.values.filter((_, i) => lv.timeS[i]! > atS - BEFORE_S && lv.timeS[i]! < atS + AFTER_S)
  const { low } = extremes(near)
  const usual = median(lv.values)
  return low < usual - SAG_V ? { low, usual } : null
}

function inWords(facts: Facts, atS: readonly number[]): Finding {
  const [first] = atS as [number]
  const at = (id: ChannelId): number =>
    linearAt(
      channel(facts, id) ?? { timeS: new Float64Array(0), values: new Float64Array(0) },
      [first],
      30,
    )[0]!
  const supply = at('lv_voltage')
  const current = at('pack_current')
  const sag = sagBefore(facts, first)
  const then = [
    sag
      ? `the 12 V had just sunk from ${numberText(sag.usual)} to ${numberText(sag.low)} V`
      : Number.isFinite(supply)
        ? `the 12 V stood at ${numberText(supply)} V`
        : `the 12 V is ${absence(facts, ['lv_voltage'])}`,
    Number.isFinite(current)
      ? `${numberText(current)} A flowed`
      : `the current is ${absence(facts, ['pack_current'])}`,
  ]
  return finding({
    kind: 'node-silent',
    subject: { type: 'node', name: 'unit that reads the cells' },
    span_s: [first, atS[atS.length - 1]!],
    onset_s: first,
    value: 1,
    unit: 's',
    plusMinus: 1,
    limit: null,
    severity: 'attention',
    question: QUESTION,
    headline: `A unit that reads the cells started again while the log ran${atS.length > 1 ? `, ${atS.length} times` : ''}; ${then[0]}.`,
    reason: `In one scan many readings were 0 or at the end of their range, contradicted by the scans before and after; ${then.join(' and ')}. Those readings are left out.`,
    next_step:
      'With the 12 V off, check supply, earth and plug of the unit that reads the cells; log its 12 V on the next drive.',
    cautions: [OUTSIDE_BOX],
    channels: [
      ...(channel(facts, 'lv_voltage') ? ['lv_voltage'] : []),
      ...(channel(facts, 'pack_current') ? ['pack_current'] : []),
    ],
    evidence_s: [Math.max(0, first - 2), first + 2],
  })
}
