import type { Assumption, Finding, Subject } from '../../../shared/review.ts'
import { copperOhm } from '../../car/copper.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { HOT_JOINT, INSIDE_BOX } from '../../facts/cautions.ts'
import type { Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { median } from '../../math/stats.ts'
import { type CellCauses, cellCauses, type ResistanceVerdict } from '../models/cell-causes.ts'
import { halfWidth, leftOpen, milli, resistanceRivals, speaks, timeScale } from '../models/cell-words.ts'
import { driveCurrents } from '../models/drive-currents.ts'
import { betweenCells, jointPlace } from '../models/long-busbars.ts'
import { resistanceUnseen } from '../models/resistance-unseen.ts'

const QUESTION = 'Does a joint or sense tap between cells add resistance?'

/** Bolted copper joints of this size, Ω. Source: ANSI/NETA acceptance practice as quoted by a test-equipment seller (weak). */
const GOOD_JOINT_OHM: readonly [number, number] = [5e-6, 15e-6]
/** What a busbar joint in still air sheds, W/K: common practice, no source. */
/** A cable between boxes may add this much by design, Ω (2.8 m of 50 mm² copper): no source. */
const BOX_CABLE_OHM = 1e-3
const SHEDS_W_PER_K: readonly [number, number] = [0.1, 0.5]

/**
 * Which joint between cells resists more than its peers?
 *
 * Model:  see `cellFit` for the resistance of each cell's reading, `cellPeers` for what its peers lead to expect and
 *         `cellCauses` for joint against weak cell, open parallel cell and misplaced tap.
 * Reads:  cell_voltage.* [V], pack_current [A, discharge positive].
 * Gives:  `joint-resistance-high` [mΩ] and `sense-tap-misplaced` [mΩ], each with the 95 % interval of the cause.
 * Blind:  a joint that all cells of a module share; a joint outside the cells' taps; what is below the smallest seen.
 * Biased by: the current sensor's gain (in the interval); peers' own differences (in the interval).
 * Source: Ohm's law; limit in `LIMITS.joint`.
 */
export function joints(facts: Facts): Answer {
  const unseen = facts.once(resistanceUnseen)
  if (unseen)
    return {
      questions: [notAssessed('pack', QUESTION, unseen.missing, unseen.why, unseen.toAssess, 'mΩ')],
      findings: [],
    }
  const causes = facts.once(cellCauses)!
  const findings = causes.verdicts.flatMap((verdict) => {
    const cause = verdict.explanations[0]!.cause
    if (cause === 'joint' || cause === 'joint-and-weak') return [jointFinding(facts, causes, verdict)]
    if (cause === 'tap') return [tapFinding(facts, causes, verdict)]
    return []
  })
  const worth = findings.filter(
    (each) => each.severity !== 'note' || (each.value ?? 0) > (facts.limits.joint.attention ?? 0) / 2,
  )
  const { peers } = causes
  const limitOhm = (facts.limits.joint.attention ?? 0) / 1e3
  const usual = median(peers.cells.map((each) => each.ohmic.error))
  const threshold = Math.max(limitOhm, (facts.limits.jointSpreads.attention ?? 5) * usual)
  const links =
    peers.links.cells.size > 0 && peers.links.extraOhm > 0
      ? ` Cells ${[...peers.links.cells].join(', ')} are read with a long busbar of about ${milli(peers.links.extraOhm)} mΩ, as much as ${(peers.links.extraOhm / copperOhm(1, 50)).toFixed(1)} m of 50 mm² copper (places from ${peers.links.foundFrom === 'pattern' ? 'the pattern in the log' : 'the vehicle file'}): taken as design.`
      : ''
  return {
    questions: [
      assessed(
        'pack',
        QUESTION,
        worth.some((each) => each.severity !== 'note'),
        `${peers.cells.length} cells against their peers; healthy ones differ by ${milli(peers.spread.ohmic, 3)} mΩ, ${timeScale(peers.fit)}.${links}`,
        {
          value: Number(milli(threshold + 1.2816 * usual, 4)),
          unit: 'mΩ',
          limit: facts.limits.joint.attention,
        },
      ),
    ],
    findings: worth,
    assumptions: learned(causes),
  }
}

/** What about the pack's layout was taken from the log. */
function learned({ peers }: CellCauses): Assumption[] {
  const { links, fit } = peers
  const found: Assumption[] = [
    {
      what: 'joint read with the lower or the upper cell',
      value: links.readWith,
      unit: '',
      source: links.readWith ? links.readWithFrom : 'nothing tells: both joints beside a cell are named',
    },
  ]
  if (links.foundFrom === 'pattern')
    found.push({
      what: 'cells read with a long busbar',
      value: [...links.cells].join(', '),
      unit: '',
      source: 'learned from the log: the same extra at an even spacing',
    })
  if (fit.lag)
    found.push({
      what: 'cell voltages read after the current, first and last cell',
      value: `${fit.lag.lagS[0]!.toFixed(2)}, ${fit.lag.lagS[fit.lag.lagS.length - 1]!.toFixed(2)}`,
      unit: 's',
      source: 'learned from the log',
    })
  return found
}

function jointSubject(facts: Facts, causes: CellCauses, cell: number): Subject {
  const between = betweenCells(causes.peers.links, cell, facts.layout.cells)
  return {
    type: 'joint',
    index: cell,
    ...(between ? { between_cells: [between[0], between[1]] as [number, number] } : {}),
  }
}

function jointFinding(facts: Facts, causes: CellCauses, verdict: ResistanceVerdict): Finding {
  const { peers } = causes
  const { cell, against } = verdict
  const best = verdict.explanations[0]!
  const value = best.jointOhm
  const plusMinus = halfWidth(value, best.jointError, peers.fit.gainPercent)
  const spreads = value / best.jointError
  const past = spreads > (facts.limits.jointSpreads.attention ?? 5)
  const where = jointPlace(facts, peers.links, cell)
  const open = leftOpen(verdict, where)
  const { rms, peak } = driveCurrents(peers.fit)
  const heat = value * rms ** 2
  const rise = SHEDS_W_PER_K.map((sheds) => heat / sheds)
  const cable = mayBeCable(facts, causes, verdict)
  const held = holdsCable(facts, causes, verdict) && !cable ? Math.min(value, BOX_CABLE_OHM) : 0
  const ofCable =
    held > 0
      ? ` A cable from box to box may stand just here: up to ${milli(held)} mΩ of this could be the cable’s, and the interval says so. Name the boxes in the vehicle file (box_of_module).`
      : ''
  const comes =
    verdict.present === null
      ? ''
      : ` Intermittent: it is there in about ${(verdict.present * 100).toFixed(0)} % of the loaded time; the figure holds while it is.`
  const halves = verdict.halves
    ? ` Intermittent: ${milli(verdict.halves[0])} mΩ in the first half of the drive, ${milli(verdict.halves[1])} mΩ in the second.`
    : ''
  const long = against.longLink
    ? ` It is read with a long busbar; the ${milli(peers.links.extraOhm)} mΩ that such links add here are taken out.`
    : ''
  const unsure = peers.links.readWith ? '' : ' Which of the two joints is read with this cell is not known.'
  const two =
    best.cause === 'joint-and-weak'
      ? ` The cell itself is weak too (${best.ratio.toFixed(2)} times its peers).`
      : ''
  return finding({
    kind: 'joint-resistance-high',
    subject: jointSubject(facts, causes, cell),
    span_s: [0, facts.drive.durationS],
    value: value * 1e3,
    unit: 'mΩ',
    low: (value - held - plusMinus) * 1e3,
    high: (value + plusMinus) * 1e3,
    limit: facts.limits.joint,
    ...(past && !cable ? {} : { severity: 'note' as const }),
    headline: `${upper(where)} adds ${milli(value)} ± ${milli(plusMinus)} mΩ${verdict.halves || verdict.present !== null ? ', not all the time' : ''}${cable ? '; or a cable between boxes, by design' : open.headline}`,
    reason:
      `Cell ${cell} drops ${milli(verdict.present === null ? against.ohmic.value : value)} mΩ more than its peers, ${timeScale(peers.fit)}; ${speaks(verdict, 'joint').against === 'nothing in this log' ? 'its slower part does not, so the extra lies in metal, not in the cell.' : 'its slower part differs as well.'}${open.reason}${cable ? CABLE : ofCable}${long}${unsure}${two}${halves}${comes}` +
      ` At the ${rms.toFixed(0)} A that warmed this drive as its current did, that is ${heat.toFixed(1)} W of heat in one joint, at the peak of ${peak.toFixed(0)} A ${(value * peak ** 2).toFixed(0)} W;` +
      ` it would settle some ${rise[1]!.toFixed(0)} to ${rise[0]!.toFixed(0)} K above its surroundings (0.1 to 0.5 W/K, common practice, no source).` +
      ` Bolted copper joints usually have 0.005 to 0.015 mΩ (ANSI/NETA practice, quoted): this is about ${(value / GOOD_JOINT_OHM[1]).toFixed(0)} times the upper figure.`,
    next_step: `Have the box opened by qualified people and measure ${where} with a micro-ohm meter, against the joints beside it. If it reads high: take it apart, look at the faces, clean and remake it by the pack maker's procedure.`,
    cautions: [INSIDE_BOX, HOT_JOINT],
    rivals: [
      ...(cable ? [cableRival(cell)] : []),
      ...resistanceRivals(verdict, best.cause, (cause) =>
        cause === 'weak' || cause === 'open'
          ? { type: 'cell', index: cell }
          : jointSubject(facts, causes, cell),
      ),
    ],
    channels: [`cell_voltage.${cell}`, 'pack_current'],
  })
}

const CABLE =
  ' It stands where a cable between boxes may: among longer links at an even spacing, or in the middle of the pack. Such a cable is as constant as this, and a bad joint at just this place is rarer. Neither is proved: name the boxes in the vehicle file (box_of_module), or measure it.'

/**
 * Where the vehicle file names no boxes, a place in a row of longer links that adds more than the others may be a cable
 * from box to box, and so may the middle of a pack without such a row: constant, and no more than such cables have.
 */
function mayBeCable(facts: Facts, causes: CellCauses, verdict: ResistanceVerdict): boolean {
  const { against, halves, present } = verdict
  if (halves || present !== null) return false
  const total = against.ohmic.value + (against.longLink ? causes.peers.links.extraOhm : 0)
  return total < BOX_CABLE_OHM && holdsCable(facts, causes, verdict)
}

/** May a cable be part of what is read here, whatever else is? */
function holdsCable(
  facts: Facts,
  { peers }: CellCauses,
  { cell, against, halves, present }: ResistanceVerdict,
): boolean {
  if (facts.vehicle.pack?.box_of_module || halves || present !== null) return false
  const { cells, known } = facts.layout
  const middle = !known && cells % 2 === 0 && (cell === cells / 2 || cell === cells / 2 + 1)
  return (peers.links.borders && against.longLink) || middle
}

function cableRival(cell: number): Finding['rivals'][number] {
  return {
    kind: 'long-busbar',
    subject: { type: 'cell', index: cell },
    likelihood_ratio: 1,
    for: 'the cell stands where a cable between two boxes may be read with it, by design',
    against: 'nothing in this log',
    decided_by:
      'The pack’s drawing: name boxes and longer links in the vehicle file (box_of_module, long_busbar_after_cells).',
  }
}

function tapFinding(facts: Facts, causes: CellCauses, verdict: ResistanceVerdict): Finding {
  const { peers } = causes
  const best = verdict.explanations[0]!
  const byCell = new Map(peers.cells.map((each) => [each.estimate.cell, each]))
  const below = byCell.get(verdict.cell - 1)
  const other = below && below.ohmic.value < -3 * below.ohmic.error ? verdict.cell - 1 : verdict.cell + 1
  const lower = Math.min(verdict.cell, other)
  const plusMinus = halfWidth(best.jointOhm, best.jointError, peers.fit.gainPercent)
  const subject: Subject = { type: 'cell-pair', index: lower, between_cells: [lower, lower + 1] }
  return finding({
    kind: 'sense-tap-misplaced',
    subject,
    span_s: [0, facts.drive.durationS],
    value: best.jointOhm * 1e3,
    unit: 'mΩ',
    plusMinus: plusMinus * 1e3,
    limit: { ...facts.limits.joint, stop: null },
    headline: `The sense tap between cells ${lower} and ${lower + 1} sits on the far side of a busbar: ${milli(best.jointOhm)} ± ${milli(plusMinus)} mΩ moved`,
    reason: `Cell ${other} reads better than its peers and cell ${verdict.cell} worse by the same, in proportion to current; nothing is lost in total, the tap counts a busbar with the wrong cell.`,
    next_step: `Have the box opened by qualified people and look where the lead between cells ${lower} and ${lower + 1} is fixed; compare with its neighbours and the pack maker's drawing.`,
    cautions: [INSIDE_BOX],
    rivals: resistanceRivals(verdict, 'tap', (cause) =>
      cause === 'weak' || cause === 'open'
        ? { type: 'cell', index: verdict.cell }
        : jointSubject(facts, causes, verdict.cell),
    ),
    channels: [`cell_voltage.${lower}`, `cell_voltage.${lower + 1}`, 'pack_current'],
  })
}

const upper = (text: string): string => text.charAt(0).toUpperCase() + text.slice(1)
