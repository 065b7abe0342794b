import type { CellRow } from '../../../shared/review.ts'
import { moduleOfCell } from '../../../shared/vehicle.ts'
import type { Answer } from '../../facts/answer.ts'
import { type Facts, family } from '../../facts/facts.ts'
import { extremes } from '../../math/stats.ts'
import { studentT } from '../../math/student-t.ts'
import { cellCauses } from '../models/cell-causes.ts'
import { cellOffsets } from '../models/cell-offsets.ts'
import { cellPeers } from '../models/cell-peers.ts'
import { cellReadingFaults } from '../models/cell-reading-faults.ts'
import { halfWidth } from '../models/cell-words.ts'
import { betweenCells } from '../models/long-busbars.ts'

/**
 * The cells' table of the review: every figure of every cell with its 95 % half width.
 *
 * Model:  none of its own: `cellFit`, `cellRest`, `cellCauses` side by side.
 * Reads:  what `cellFit`, `cellRest` and the causes found.
 * Gives:  `cells[]` and `cell_rest`; no question of its own.
 *   resistance, polarisation   the reading's own error and the current sensor's gain
 *   resistance_mohm_repeats    the fit's own error alone
 *   joint_extra                the cause's error, peers' spread included; null for a cell that another cause explains
 *   class                      like-its-peers, joint, joint-and-weak, weak, open, tap, sense-lead, imbalance, frozen, invalid
 * Biased by: what biases those models (current gain, scan, relaxation), each in its half width.
 * Blind:  cells whose voltage is not logged.
 * Source: as those models.
 */
export function cells(facts: Facts): Answer {
  const peers = facts.once(cellPeers)
  const offsets = facts.once(cellOffsets)
  const causes = facts.once(cellCauses)
  const classes = new Map<number, string>()
  for (const fault of facts.once(cellReadingFaults)?.faults ?? [])
    if (fault.lostS > 1) classes.set(fault.cell, fault.kind)
  for (const each of offsets?.imbalances ?? []) classes.set(each.cell, 'imbalance')
  for (const each of offsets?.pairs ?? [])
    for (const cell of [each.cell, each.cell + 1]) classes.set(cell, 'sense-lead')
  for (const each of causes?.verdicts ?? []) classes.set(each.cell, each.explanations[0]!.cause)
  const againstPeers = new Map(peers?.cells.map((each) => [each.estimate.cell, each]))
  const atRest = new Map(offsets?.rest.cells.map((each) => [each.cell, each]))
  const verdicts = new Map(causes?.verdicts.map((each) => [each.cell, each.explanations[0]!]))
  const rows = family(facts, 'cell_voltage').map(({ number, channel }): CellRow => {
    const against = againstPeers.get(number)
    const estimate = against?.estimate
    const rest = atRest.get(number)
    const { low, high } = extremes(channel.values)
    const gain = peers?.fit.gainPercent ?? 0
    const shared = peers?.fit.typicalError
    const half = (value: number, row: number, common: number): number => {
      const t = studentT(0.975, estimate!.degrees) / 1.96
      return halfWidth(value, t * Math.hypot(Math.sqrt(estimate!.covariance[row * 5]!), common), gain)
    }
    const verdict = verdicts.get(number)
    const extra = verdict ? verdict.jointOhm : against?.ohmic.value
    const between = peers ? betweenCells(peers.links, number, facts.layout.cells) : null
    return {
      index: number,
      module: moduleOfCell(facts.layout, number),
      between_cells: between ? [between[0], between[1]] : null,
      resistance_mohm: estimate ? estimate.ohmicOhm * 1e3 : null,
      resistance_mohm_plus_minus: estimate ? half(estimate.ohmicOhm, 0, shared!.ohmicOhm) * 1e3 : null,
      resistance_mohm_repeats: estimate ? half(0, 0, 0) * 1e3 : null,
      resistance_window_s: peers ? peers.fit.windowS : null,
      polarisation_mohm: estimate ? estimate.slowOhm * 1e3 : null,
      polarisation_mohm_plus_minus: estimate ? half(estimate.slowOhm, 1, shared!.slowOhm) * 1e3 : null,
      joint_extra_mohm: extra === undefined ? null : extra * 1e3,
      joint_extra_mohm_plus_minus:
        extra === undefined
          ? null
          : halfWidth(extra, verdict?.jointError || against!.ohmic.error, gain) * 1e3,
      rest_offset_mv: rest ? rest.offsetV * 1e3 : null,
      rest_offset_mv_plus_minus: rest ? 1.96 * rest.error * 1e3 : null,
      rest_s: offsets?.rest.restS ?? null,
      min_v: Number.isFinite(low) ? low : null,
      max_v: Number.isFinite(high) ? high : null,
      class: classes.get(number) ?? (peers || offsets ? 'like-its-peers' : null),
    }
  })
  const readIn = offsets?.rest
  return {
    questions: [],
    findings: [],
    sections: {
      cells: rows,
      cell_rest: readIn ? { from: readIn.from, span_s: [...readIn.span_s], median_v: readIn.medianV } : null,
    },
  }
}
