import type { Facts } from '../../facts/facts.ts'
import { median } from '../../math/stats.ts'
import { disagreeingHalves } from './cell-halves.ts'
import { type CellAgainstPeers, cellPeers, type Excess, type PeerView } from './cell-peers.ts'
import { openCircuit } from './open-circuit.ts'
import { type Explanation, explain, type Usual } from './resistance-evidence.ts'

/** So many errors of the ohmic part before the fall with charge counts as well; no source. */
const SURELY = 3

export interface ResistanceVerdict {
  readonly cell: number
  readonly against: CellAgainstPeers
  /** Best first. */
  readonly explanations: readonly Explanation[]
  /** Extra of the first and the second half of the drive, Ω, where they disagree beyond their errors. */
  readonly halves: readonly [number, number] | null
  /** Share of the loaded time that the extra is there, where it comes and goes. */
  readonly present: number | null
}

export interface CellCauses {
  readonly peers: PeerView
  readonly verdicts: readonly ResistanceVerdict[]
}

/** A resistance that comes and goes is looked at from here on, Ω. */
const BURST_OHM = 1e-4
/** From how many standard errors on a cell is looked at: 100 cells and three figures give 1 false look in 10⁴. */
const LOOK = 5
/**
 * Which cause explains a cell that stands out in resistance.
 *
 * Cells are taken one after the other, the clearest first: `explain` weighs the causes. A neighbour that reads better by
 * the same amount makes a misplaced tap possible.
 */
export function cellCauses(facts: Facts): CellCauses | null {
  const peers = facts.once(cellPeers)
  if (!peers) return null
  const { typical, shift } = peers.fit
  const usual: Usual = {
    ohmicOhm: typical.ohmicOhm,
    slowOhm: typical.slowOhm - shift.slowOhm,
    fallVPerAh: typical.fallVPerAh,
    shiftVPerAh: shift.fallVPerAh,
    kinetics: peers.fit.kinetics,
    parallel: facts.vehicle.pack?.parallel_cells ?? null,
    flat: openCircuit(facts.vehicle, median(peers.fit.cells.map((each) => each.offsetV)))?.flatLfp ?? false,
  }
  // borders in a pack whose boxes nobody named: one of them may be a cable from box to box
  const unnamed = peers.links.borders && !facts.vehicle.pack?.box_of_module
  const byCell = new Map(peers.cells.map((each) => [each.estimate.cell, each]))
  const taken = new Set<number>()
  const verdicts: ResistanceVerdict[] = []
  const better = (cell: CellAgainstPeers): CellAgainstPeers | null =>
    [cell.estimate.cell - 1, cell.estimate.cell + 1]
      .map((number) => byCell.get(number))
      .find((each) => each && !taken.has(each.estimate.cell) && mirrored(cell, each)) ?? null
  const looks = (cell: CellAgainstPeers): number => (better(cell) ? Number.POSITIVE_INFINITY : score(cell))
  for (const cell of [...peers.cells].sort((a, b) => score(b) - score(a))) {
    if (taken.has(cell.estimate.cell) || looks(cell) < LOOK || cell.ohmic.value <= 0) continue
    const neighbour = better(cell)
    const weighed = explain(cell, neighbour, usual)
    const explanations = peers.links.alone.has(cell.estimate.cell)
      ? besideLink(weighed)
      : unnamed && cell.longLink
        ? cableLikely(weighed)
        : weighed
    if (explanations.length === 0) continue
    verdicts.push({
      cell: cell.estimate.cell,
      against: cell,
      explanations,
      halves: disagreeingHalves(peers.fit, cell, peers.cells),
      present: cell.estimate.burst && cell.estimate.burst.ohm < 0 ? 1 - cell.estimate.burst.share : null,
    })
    taken.add(cell.estimate.cell)
    if (explanations[0]?.cause === 'tap') taken.add(neighbour!.estimate.cell)
  }
  for (const cell of peers.cells) {
    const { burst } = cell.estimate
    // a reading that mostly stands still shows its whole resistance in bursts: that is no joint
    if (cell.ohmic.value < -LOOK * cell.ohmic.error) continue
    if (!burst || taken.has(cell.estimate.cell) || !(burst.ohm > Math.max(LOOK * burst.error, BURST_OHM)))
      continue
    const joint = { cause: 'joint' as const, jointOhm: burst.ohm, jointError: burst.error }
    verdicts.push({
      cell: cell.estimate.cell,
      against: cell,
      explanations: [{ ...joint, logEvidence: 0, ratio: 1, ratioError: 0 }],
      halves: null,
      present: burst.share,
    })
  }
  return { peers, verdicts }
}

/**
 * Of a cell that is read with a link without peers: what the link adds is design until `box-links` says otherwise, so
 * only a cell that is weak besides speaks. Its ratio is what both at once leave it.
 */
function besideLink(weighed: readonly Explanation[]): Explanation[] {
  const [best] = weighed
  if (best?.cause === 'open') return [...weighed]
  const both = weighed.find((each) => each.cause === 'joint-and-weak')
  if (!both || (best?.cause !== 'weak' && best?.cause !== 'joint-and-weak')) return []
  const design = weighed.filter((each) => each.cause === 'joint' && both.logEvidence > each.logEvidence)
  return design.length === 0 ? [] : [{ ...both, cause: 'weak' }, ...design]
}

/** How much commoner a cable from box to box is than a weak cell at one border of modules: no source. */
const CABLE = Math.log(50)

function cableLikely(weighed: readonly Explanation[]): Explanation[] {
  return weighed
    .map((each) => (each.cause === 'joint' ? { ...each, logEvidence: each.logEvidence + CABLE } : each))
    .sort((a, b) => b.logEvidence - a.logEvidence)
}

/** One reads worse and its neighbour better, clearly as a pair, and by amounts that can be the same. */
function mirrored(worse: CellAgainstPeers, better: CellAgainstPeers): boolean {
  const [x, y] = [worse.ohmic, better.ohmic]
  const error = Math.hypot(x.error, y.error)
  return (
    x.value - y.value > 1.2 * LOOK * error &&
    x.value > 2.5 * x.error &&
    y.value < -2.5 * y.error &&
    Math.abs(x.value + y.value) < 4 * error
  )
}

/** In standard errors; slow part and fall with charge alone count only together with the ohmic part. */
function score({ ohmic, slow, fall, bend }: CellAgainstPeers): number {
  const by = ({ value, error }: Excess): number => value / error
  return Math.max(
    by(ohmic),
    by(ohmic) > 2 ? Math.max(by(slow), by(bend)) : 0,
    by(ohmic) > SURELY ? by(fall) : 0,
  )
}
