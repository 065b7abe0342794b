import type { Finding, Subject } from '../../../shared/review.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { INSIDE_BOX } from '../../facts/cautions.ts'
import type { Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { median } from '../../math/stats.ts'
import { type CellCauses, cellCauses, type ResistanceVerdict } from '../models/cell-causes.ts'
import { halfWidth, leftOpen, milli, resistanceRivals, speaks, timeScale } from '../models/cell-words.ts'
import { jointPlace } from '../models/long-busbars.ts'
import { resistanceUnseen } from '../models/resistance-unseen.ts'

/** A fall known no better than this is not told; no source. */
const ERROR_SHARE = 0.15

const QUESTION = 'Is a cell weaker than its peers?'

/**
 * Which cell's own resistance has grown, ohmic and slow parts together?
 *
 * Model:  `cellFit`, `cellPeers`, `cellCauses`. value = 1 + (ohmic extra, joint taken out) / (typical ohmic part).
 * Reads:  cell_voltage.* [V], pack_current [A, discharge positive].
 * Gives:  `cell-weak` [ratio], `parallel-cell-open` [cells missing] where the vehicle file says how many are in parallel.
 * Blind:  a pack that aged evenly; a cell whose ohmic part alone has grown (reads like a joint).
 * Biased by: a cell that is colder than its module's others.
 * Source: p cells in parallel less m have p/(p − m) of the resistance and (p − m)/p of the capacity (Ohm, Kirchhoff).
 */
export function weakCells(facts: Facts): Answer {
  const unseen = facts.once(resistanceUnseen)
  if (unseen)
    return {
      questions: [notAssessed('pack', QUESTION, unseen.missing, unseen.why, unseen.toAssess)],
      findings: [],
    }
  const causes = facts.once(cellCauses)!
  const findings = causes.verdicts.flatMap((verdict) => {
    const cause = verdict.explanations[0]!.cause
    if (cause === 'weak' || cause === 'joint-and-weak') return [weakFinding(facts, causes, verdict)]
    if (cause === 'open') return [openFinding(facts, causes, verdict)]
    return []
  })
  const { peers } = causes
  const usual = median(peers.cells.map((each) => each.ohmic.error)) / peers.fit.typical.ohmicOhm
  const threshold = Math.max((facts.limits.cellRatio.attention ?? 1.25) - 1, 5 * usual)
  const colder = [...peers.moduleOhmic].filter(([, ohm]) => ohm > 0.05 * peers.fit.typical.ohmicOhm)
  const parallel = facts.vehicle.pack?.parallel_cells
    ? ''
    : ' How many cells are in parallel is not known: one of them open would read as a weak cell.'
  const cold =
    colder.length > 0
      ? ` Module ${colder.map(([module]) => module).join(', ')} resists more as a whole, as colder modules do; that is taken out first.`
      : ''
  return {
    questions: [
      assessed(
        'pack',
        QUESTION,
        findings.some((each) => each.severity !== 'note'),
        `The typical cell has ${milli(peers.fit.typical.ohmicOhm)} mΩ ${timeScale(peers.fit)} and ${milli(peers.fit.typical.slowOhm)} mΩ more once settled.${cold}${parallel}`,
        { value: Number((1 + threshold + 1.2816 * usual).toFixed(4)), unit: '' },
      ),
    ],
    findings,
  }
}

function rivalSubject(cell: number): (cause: string) => Subject {
  return (cause) => ({ type: cause === 'weak' || cause === 'open' ? 'cell' : 'joint', index: cell })
}

function charge(causes: CellCauses, verdict: ResistanceVerdict): string {
  const { fall } = verdict.against
  const share = fall.value / causes.peers.fit.typical.fallVPerAh
  const error = fall.error / causes.peers.fit.typical.fallVPerAh
  if (!(error < ERROR_SHARE) || !(share > 3 * error)) return ''
  return ` Over the drive it ran away from its peers: its voltage fell ${(share * 100).toFixed(0)} ± ${(196 * error).toFixed(0)} % faster with charge, as a cell with ${(100 / (1 + share)).toFixed(0)} % of their capacity would.`
}

function weakFinding(facts: Facts, causes: CellCauses, verdict: ResistanceVerdict): Finding {
  const { fit } = causes.peers
  const best = verdict.explanations[0]!
  const plusMinus = 1.96 * best.ratioError
  // a joint might hide in the ohmic part: then the slower part alone tells the cell's own
  const bySlow = 1 + verdict.against.slow.value / Math.max(fit.typical.slowOhm, 1e-6)
  const apart =
    best.ratio - bySlow > 2 * Math.hypot(best.ratioError, verdict.against.slow.error / fit.typical.slowOhm)
  const low = apart ? Math.max(1, Math.min(best.ratio - plusMinus, bySlow)) : best.ratio - plusMinus
  const open = leftOpen(verdict, jointPlace(facts, causes.peers.links, verdict.cell))
  const halves = verdict.halves ? ' The two halves of the drive disagree: intermittent.' : ''
  return finding({
    kind: 'cell-weak',
    subject: { type: 'cell', index: verdict.cell },
    span_s: [0, facts.drive.durationS],
    value: best.ratio,
    unit: '',
    low,
    high: best.ratio + plusMinus,
    limit: facts.limits.cellRatio,
    headline: `Cell ${verdict.cell} has ${ratioText(best.ratio, low, best.ratio + plusMinus)} times the resistance of its peers${open.headline}`,
    reason:
      `${speaks(verdict, 'weak').for}.${charge(causes, verdict)}${best.cause === 'joint-and-weak' ? ' A joint beside it is high as well; its part is taken out.' : ''}${open.reason}${halves} The typical cell here has ${milli(fit.typical.ohmicOhm)} mΩ ${timeScale(fit)}.`.replace(
        /^t/,
        'T',
      ),
    next_step: `Have qualified people measure cell ${verdict.cell} and its neighbours in the box: first a micro-ohm meter across its joints, then the cell's own resistance and capacity against its neighbours'.`,
    cautions: [INSIDE_BOX],
    rivals: resistanceRivals(verdict, best.cause, rivalSubject(verdict.cell)),
    channels: [`cell_voltage.${verdict.cell}`, 'pack_current'],
  })
}

function openFinding(facts: Facts, causes: CellCauses, verdict: ResistanceVerdict): Finding {
  const best = verdict.explanations[0]!
  const parallel = facts.vehicle.pack!.parallel_cells!
  const missing = best.missing ?? 1
  const seen = 1 + verdict.against.ohmic.value / causes.peers.fit.typical.ohmicOhm
  const seenError = halfWidth(seen, verdict.against.ohmic.error / causes.peers.fit.typical.ohmicOhm, 0)
  const open = leftOpen(verdict, jointPlace(facts, causes.peers.links, verdict.cell))
  const asMissing = (ratio: number): number => parallel - parallel / ratio
  return finding({
    kind: 'parallel-cell-open',
    subject: { type: 'cell', index: verdict.cell },
    span_s: [0, facts.drive.durationS],
    value: missing,
    unit: 'cells',
    low: Math.min(missing, asMissing(Math.max(1, seen - seenError))),
    high: Math.max(missing, asMissing(seen + seenError)),
    limit: null,
    severity: 'attention',
    headline: `Cell ${verdict.cell}: ${missing} of ${parallel} parallel cells not carrying${open.headline}`,
    reason: `Its resistance is ${seen.toFixed(2)} times its peers'; ${parallel} cells less ${missing} have ${best.ratio.toFixed(2)} times.${charge(causes, verdict)}${open.reason}`,
    next_step: `Have qualified people look at the links of each parallel cell of cell ${verdict.cell} (weld, wire, fuse link) and measure each with a micro-ohm meter.`,
    cautions: [INSIDE_BOX],
    rivals: resistanceRivals(verdict, 'open', rivalSubject(verdict.cell)),
    channels: [`cell_voltage.${verdict.cell}`, 'pack_current'],
  })
}

/** The ratio with its interval, by its ends where the two sides differ (a joint may hold a part of it). */
function ratioText(ratio: number, low: number, high: number): string {
  return low < ratio - 1.01 * (high - ratio)
    ? `${ratio.toFixed(2)} (${low.toFixed(2)} to ${high.toFixed(2)})`
    : `${ratio.toFixed(2)} ± ${(high - ratio).toFixed(2)}`
}
