import type { Finding } from '../../../shared/review.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { INSIDE_BOX } from '../../facts/cautions.ts'
import { absence, type Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { type CellOffsets, cellOffsets, type Imbalance } from '../models/cell-offsets.ts'
import type { CellRest } from '../models/cell-rest.ts'
import { cellTable } from '../models/cell-series.ts'
import { milli } from '../models/cell-words.ts'
import {
  FLAT_V_PER_PERCENT,
  type OpenCircuitCurve,
  openCircuit,
  slopeAt,
  socAt,
} from '../models/open-circuit.ts'

const QUESTION = 'Is a cell out of balance at rest?'

/** On a flat curve only a cell that has left the plateau stands off this far, V. */
const OFF_PLATEAU_V = 0.025
/** On the steep ends of an LFP curve cells part by nature; this much charge is more than that, percent. */
const LFP_END_PERCENT = 2

/**
 * Which cell holds more or less charge than its peers?
 *
 * Model:  rest offset = voltage − median of all cells, without load (`cellRest`); Δcharge through the open-circuit
 *         curve of the vehicle file, else the chemistry's usual one (from memory).
 * Reads:  cell_voltage.* [V], pack_current [A] to know a rest; vehicle: chemistry, ocv, capacity_ah, balance_current_a.
 * Gives:  `cell-imbalance` [mV, signed].
 * Biased by: voltage that still relaxes after load (the rest time stands beside the figure), steps of the reading.
 * Blind:  on a flat LFP plateau charge cannot be read from voltage; what balancing hides while it is on.
 * Source: limits in `LIMITS.restOffset`, common practice.
 */
export function balance(facts: Facts): Answer {
  const offsets = facts.once(cellOffsets)
  if (!offsets)
    return {
      questions: [
        notAssessed(
          'pack',
          QUESTION,
          ['cell_voltage'],
          'no cell voltages without load, and no load to fit them by',
          'Log every cell voltage from before the key is turned, after a night at rest.',
          'mV',
        ),
      ],
      findings: [],
    }
  const { rest } = offsets
  const curve = openCircuit(facts.vehicle, rest.medianV)
  const flat = curve?.flatLfp === true && slopeAt(curve, rest.medianV) < FLAT_V_PER_PERCENT
  const findings = offsets.imbalances.map((each) => imbalanceFinding(facts, offsets, each, curve, flat))
  const loud = findings.some((each) => each.severity !== 'note')
  if (flat && !loud)
    return {
      questions: [
        notAssessed(
          'pack',
          QUESTION,
          [],
          `the pack rests at ${rest.medianV.toFixed(3)} V, on the flat part of the ${curve!.source}: there voltage says little about charge (offsets are given in the cells' table)`,
          'Log the cells near the end of a charge, where the voltage rises, or a rest near empty.',
          'mV',
        ),
      ],
      findings,
    }
  const limitMv = facts.limits.restOffset.attention ?? 10
  const usualMv = offsets.usualError * 1e3
  return {
    questions: [
      assessed(
        'pack',
        QUESTION,
        loud,
        `${restWords(rest)} Healthy cells differ by ${milli(rest.spreadV, 1)} mV.${unseenBalancing(facts)}`,
        {
          value: Number((Math.max(limitMv, 5 * usualMv) + 1.2816 * usualMv).toFixed(2)),
          unit: 'mV',
          limit: limitMv,
        },
      ),
    ],
    findings,
    assumptions: [
      {
        what: 'rest voltage against charge',
        value: curve ? curve.source : null,
        unit: '',
        source: curve ? curve.source : 'no chemistry known',
      },
    ],
  }
}

/** A balancer at work lowers the reading of the cell that it bleeds; without a log of it that is not taken out. */
function unseenBalancing(facts: Facts): string {
  const bleeds = facts.vehicle.pack?.balance_current_a !== undefined
  return bleeds && facts.once(cellTable).balancingLogged === 'no'
    ? ` Balancing is ${absence(facts, ['balancing', 'balancing_on'])}: some millivolts may be its doing.`
    : ''
}

function restWords(rest: CellRest): string {
  if (rest.from === 'before')
    return `Read before the first load of the log, over ${rest.restS!.toFixed(0)} s; how long the pack had rested before that is not in the log.`
  if (rest.from === 'after') return `Read ${(rest.restS! / 60).toFixed(0)} minutes after the last load.`
  return 'The log has no rest (half a minute after a drive is none): read from the fit under load, carried back to the start of the log.'
}

function imbalanceFinding(
  facts: Facts,
  { rest }: CellOffsets,
  { cell, offsetV, error }: Imbalance,
  curve: OpenCircuitCurve | null,
  flat: boolean,
): Finding {
  const value = offsetV * 1e3
  const plusMinus = 1.96 * error * 1e3
  const low = value < 0
  const { attention, stop } = facts.limits.restOffset
  const soc = curve && !flat ? socAt(curve, rest.medianV + offsetV) - socAt(curve, rest.medianV) : null
  const natural =
    curve?.flatLfp === true && (flat ? Math.abs(offsetV) < OFF_PLATEAU_V : Math.abs(soc!) < LFP_END_PERCENT)
  const sign = low ? -1 : 1
  const capacity = facts.vehicle.pack?.capacity_ah
  const bleed = facts.vehicle.pack?.balance_current_a
  const charge =
    soc === null
      ? flat
        ? ' On the flat part of the curve this cannot be turned into charge.'
        : ' Without a chemistry or curve this cannot be turned into charge.'
      : ` By the ${curve!.source} that is ${Math.abs(soc).toFixed(1)} % of charge ${low ? 'less' : 'more'}${
          capacity
            ? `: the pack loses ${((Math.abs(soc) / 100) * capacity).toFixed(1)} Ah, as this cell is ${low ? 'empty' : 'full'} first${
                bleed
                  ? `, and balancing at ${bleed} A takes about ${(((Math.abs(soc) / 100) * capacity) / bleed).toFixed(0)} h of bleeding ${low ? 'all others' : 'it'}`
                  : ''
              }.`
            : ', and the pack loses as much of its capacity.'
        }`
  return finding({
    kind: 'cell-imbalance',
    subject: { type: 'cell', index: cell },
    span_s: rest.span_s,
    value,
    unit: 'mV',
    plusMinus,
    limit: {
      ...facts.limits.restOffset,
      attention: attention === null ? null : sign * attention,
      stop: stop === null ? null : sign * stop,
    },
    bad: low ? 'below' : 'above',
    ...(natural ? { severity: 'note' as const } : {}),
    headline: `Cell ${cell} stands ${Math.abs(value).toFixed(1)} ± ${plusMinus.toFixed(1)} mV ${low ? 'below' : 'above'} the others without load`,
    reason: `${restWords(rest)}${charge}`,
    next_step: `Let the pack rest after charging with balancing on by the maker's procedure, then log the cells again. If cell ${cell} drifts off again within days, have qualified people look for what drains it.`,
    cautions: ['A cell below its minimum voltage or below 0 °C is not to be charged.', INSIDE_BOX],
    rivals: [
      {
        kind: 'sense-lead-offset',
        subject: { type: 'cell-pair', index: cell },
        likelihood_ratio: null,
        for: 'a lead at the end of a measuring board shifts one cell alone',
        against: 'its neighbours are not shifted the other way',
        decided_by: 'A meter across the cell, by qualified people: an imbalance shows on the meter too.',
      },
    ],
    channels: [`cell_voltage.${cell}`],
  })
}
