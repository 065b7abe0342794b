import type { Facts } from '../analyses/analysis.ts'
import { median } from '../math/stats.ts'
import { disagreeingHalves } from './cell-halves.ts'
import { type CellAgainstPeers, cellPeers, type PeerView } from './cell-peers.ts'
import { openCircuit } from './open-circuit.ts'

/** What can make a cell's reading follow the current more than its peers do. */
export type ResistanceCause = 'joint' | 'weak' | 'open' | 'joint-and-weak' | 'tap'

export interface Explanation {
  readonly cause: ResistanceCause
  /** Natural logarithm of how well it explains the figures: likelihood at its best, less a price per free figure. */
  readonly logEvidence: number
  /** Extra of a joint (or moved by a tap), Ω; 0 where the cause has none. */
  readonly jointOhm: number
  readonly jointError: number
  /** Own resistance against the typical cell's; 1 where the cause leaves it alone. */
  readonly ratio: number
  readonly ratioError: number
}

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
/** How differently a weak cell's ohmic and slow parts may have grown, as a share of the growth. */
const UNEVEN = 0.25
/** What is thought possible before looking: extra of a joint up to 3 mΩ, a cell up to three times its peers. */
const JOINT_RANGE_OHM = 0.003
const RATIO_RANGE = 2
const PRICE_OF_TWO = Math.log(0.02)
const PRICE_OF_TAP = Math.log(0.2)
const PRICE_OF_OPEN = Math.log(0.3)
/** Parallel cells are alike to this share: what is left after one is open scatters by it. */
const ALIKE = 0.02
/** How far the open-circuit curve's slope may differ for a cell that empties faster, as a share: flat with knees for LFP. */
const BENDY = 0.25
const BENDY_LFP = 0.8

/**
 * Which cause explains a cell that stands out in resistance.
 *
 * Figures against peers, each with its standard error of the cause: ohmic part x, slow part y, fall with charge z.
 *
 *     joint       x = a        y = 0          z = 0             a free
 *     weak        x = r·R₀     y = r·P        z ≥ 0 (some)      r free
 *     open        x = r·R₀     y = r·P        z = r·f           r = m/(p − m), m of p parallel cells missing
 *     tap         x = a here, −a at the neighbour               a free
 *
 * Gaussian likelihoods at their best, times the width that the fitted figure keeps over the width thought possible
 * before (so a cause with more freedom pays for it). The ratio of two is the `likelihood_ratio` of the finding.
 * Blind: a weak cell whose ohmic part alone has grown looks like a joint; the micro-ohm meter decides.
 */
export function cellCauses(facts: Facts): CellCauses | null {
  const peers = facts.once(cellPeers)
  if (!peers) return null
  const parallel = facts.vehicle.pack?.parallel_cells ?? null
  const curve = openCircuit(facts.vehicle, median(peers.fit.cells.map((each) => each.offsetV)))
  const bendy = curve?.flatLfp ? BENDY_LFP : BENDY
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
    const explanations = explain(cell, neighbour, peers, parallel, bendy)
    verdicts.push({
      cell: cell.estimate.cell,
      against: cell,
      explanations,
      halves: disagreeingHalves(peers.fit, cell),
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

function score(cell: CellAgainstPeers): number {
  return Math.max(
    cell.ohmic.value / cell.ohmic.error,
    // slow parts alone count only together with the ohmic part
    cell.ohmic.value > 2 * cell.ohmic.error ? cell.slow.value / cell.slow.error : 0,
  )
}

function explain(
  cell: CellAgainstPeers,
  better: CellAgainstPeers | null,
  peers: PeerView,
  parallel: number | null,
  bendy: number,
): Explanation[] {
  const { typical, shift } = peers.fit
  const x = cell.ohmic.value
  const y = cell.slow.value
  const z = cell.fall.value
  const sx = cell.ohmic.error
  const sy = cell.slow.error
  const sz = cell.fall.error
  // a grown cell repeats what the slow parts' shape gets wrong, in proportion to its growth
  const p = Math.max(typical.slowOhm - shift.slowOhm, 0)
  const fall = Math.max(typical.fallVPerAh, 0)
  const fallOf = (growth: number, capacity: number): number => capacity * fall - growth * shift.fallVPerAh
  const fallError = (growth: number): number =>
    Math.hypot(sz * (1 + growth), bendy * growth * fall, 0.5 * growth * shift.fallVPerAh)
  const found: Explanation[] = []
  const jointError = sx
  const joint = normal(0, sx) + normal(y, sy) + normal(z, sz) + width(jointError, JOINT_RANGE_OHM)
  found.push({ cause: 'joint', logEvidence: joint, jointOhm: x, jointError, ratio: 1, ratioError: 0 })
  const r0 = typical.ohmicOhm
  const wx = Math.hypot(sx, UNEVEN * x)
  const wy = Math.hypot(sy, UNEVEN * Math.abs(y))
  const weight = (r0 / wx) ** 2 + (p / wy) ** 2
  const growth = Math.max(0, ((x * r0) / wx ** 2 + (y * p) / wy ** 2) / weight)
  const ratioError = 1 / Math.sqrt(weight)
  const weak =
    normal(x - growth * r0, wx) +
    normal(y - growth * p, wy) +
    normal(z - fallOf(growth, 0.05), Math.hypot(fallError(growth), 0.1 * fall)) +
    width(ratioError, RATIO_RANGE)
  // the figure given is the short-time one: the ohmic part alone
  found.push({
    cause: 'weak',
    logEvidence: weak,
    jointOhm: 0,
    jointError: 0,
    ratio: 1 + Math.max(0, x) / r0,
    ratioError: sx / r0,
  })
  // both: the slow part gives the cell's own growth, the rest is the joint's
  if (p > 0) {
    const own = Math.max(0, y / p)
    const ownError = Math.hypot(sy / p, UNEVEN * own)
    const extra = x - own * r0
    const extraError = Math.hypot(sx, ownError * r0)
    if (extra > 3 * extraError && own > 3 * ownError)
      found.push({
        cause: 'joint-and-weak',
        logEvidence:
          // both figures are met exactly: the likelihood is at its peak, the price is two widths
          normal(0, sx) +
          normal(0, sy) +
          normal(z - fallOf(own, 0.05), Math.hypot(fallError(own), 0.1 * fall)) +
          width(ownError, RATIO_RANGE) +
          width(sx, JOINT_RANGE_OHM) +
          PRICE_OF_TWO,
        jointOhm: extra,
        jointError: extraError,
        ratio: 1 + own,
        ratioError: ownError,
      })
  }
  for (let missing = 1; parallel !== null && missing < parallel; missing++) {
    const grown = missing / (parallel - missing)
    const natural = (error: number, figure: number): number =>
      Math.hypot(error * (1 + grown), ALIKE * (1 + grown) * figure)
    found.push({
      cause: 'open',
      logEvidence:
        normal(x - grown * r0, natural(sx, r0)) +
        normal(y - grown * p, Math.hypot(natural(sy, p), 0.1 * grown * p)) +
        normal(z - fallOf(grown, grown), fallError(grown)) +
        PRICE_OF_OPEN +
        (missing > 1 ? PRICE_OF_TWO : 0),
      jointOhm: 0,
      jointError: 0,
      ratio: 1 + grown,
      ratioError: natural(sx, r0) / r0,
    })
  }
  if (better) {
    const moved =
      (x / sx ** 2 - better.ohmic.value / better.ohmic.error ** 2) / (sx ** -2 + better.ohmic.error ** -2)
    const movedError = 1 / Math.sqrt(sx ** -2 + better.ohmic.error ** -2)
    // the neighbour's betterment is left unexplained by every other cause
    const unexplained = normal(better.ohmic.value, better.ohmic.error)
    for (let at = 0; at < found.length; at++)
      found[at] = { ...found[at]!, logEvidence: found[at]!.logEvidence + Math.max(unexplained, -50) }
    found.push({
      cause: 'tap',
      logEvidence:
        normal(x - moved, sx) +
        normal(better.ohmic.value + moved, better.ohmic.error) +
        normal(y, sy) +
        normal(z, sz) +
        width(movedError, JOINT_RANGE_OHM) +
        PRICE_OF_TAP,
      jointOhm: moved,
      jointError: movedError,
      ratio: 1,
      ratioError: 0,
    })
  }
  return found.sort((a, b) => b.logEvidence - a.logEvidence)
}

/** ln of a normal density. */
function normal(value: number, spread: number): number {
  return -0.5 * (value / spread) ** 2 - Math.log(spread) - 0.5 * Math.log(2 * Math.PI)
}

/** ln of the share of the range thought possible that the fit keeps. */
function width(error: number, range: number): number {
  return Math.log(Math.min(1, (error * Math.sqrt(2 * Math.PI)) / range))
}
