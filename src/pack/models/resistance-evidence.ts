import { studentDensity } from '../../math/student-density.ts'
import { invertSymmetric } from '../../math/symmetric.ts'
import type { Kinetics } from './cell-kinetics.ts'
import type { CellAgainstPeers } from './cell-peers.ts'
import { PLAIN_LINK_OHM, PLAIN_LINK_SPREAD } from './plain-link.ts'

/** What can make a cell's reading follow the current more than its peers do. */
export type ResistanceCause = 'joint' | 'weak' | 'open' | 'joint-and-weak' | 'tap'

export interface Explanation {
  readonly cause: ResistanceCause
  /** Natural logarithm of how well it explains the figures: their density, meant over what the cause allows. */
  readonly logEvidence: number
  /** Extra of a joint (or moved by a tap), Ω; 0 where the cause has none. */
  readonly jointOhm: number
  readonly jointError: number
  /** Own resistance against the typical cell's; 1 where the cause leaves it alone. */
  readonly ratio: number
  readonly ratioError: number
  /** Parallel cells that do not carry; where that is the cause. */
  readonly missing?: number
}

/** The typical cell, and what is known about the pack beforehand. */
export interface Usual {
  /** Ω, Ω, V per A·h. */
  readonly ohmicOhm: number
  readonly slowOhm: number
  readonly fallVPerAh: number
  /** Part of `fallVPerAh` that the fit of a single cell does not show: a grown cell misses it as often as it has grown. */
  readonly shiftVPerAh: number
  readonly kinetics: Kinetics
  readonly parallel: number | null
  /** Iron phosphate's open-circuit curve is flat with knees. */
  readonly flat: boolean
}

/**
 * What grows in a weak cell: everything alike (fewer working surfaces), all but the slow part (diffusion is the
 * particles' own), charge transfer alone, the ohmic part alone (reads like a joint). Shares of ohmic part and charge
 * transfer, slow part's growth against theirs and how far it may lie from that, and how likely each is beforehand: no
 * source; the last one's keeps a joint from leading ten to one where no figure can part it from metal inside a cell
 * (study:causes, 27 November 2026, second model: three of three such cells were called a joint by 12 to 64 to one, true
 * joints by 390 and more).
 */
const WAYS = [
  { ohmic: 1, kinetic: 1, slow: 1, slowSpread: 0.25, weight: 0.4 },
  { ohmic: 1, kinetic: 1, slow: 0.2, slowSpread: 0.3, weight: 0.15 },
  { ohmic: 0, kinetic: 1, slow: 0.1, slowSpread: 0.2, weight: 0.1 },
  { ohmic: 1, kinetic: 0, slow: 0, slowSpread: 0.1, weight: 0.35 },
] as const
/** Share of the uneven ways' weights that is left in a pack without charge transfer to be seen: no source. */
const EVEN = 0.03
/** Share of charge transfer in the ohmic figure from which on all ways have their whole weight. */
const MUCH = 0.5
/** How differently a weak cell's parts may have grown, as a share of the growth; of a bend, whose law is rougher. */
const UNEVEN = 0.25
const UNEVEN_BEND = 0.4
/**
 * A cell has no single resistance: what part of the typical short-time figure does not grow with the rest (diffusion of
 * the first instant), as a share of the growth; more of charge transfer, which falls as the current rises. Of nine weak
 * cells of the second model six read 4 to 17 % of their growth low (study:causes, 27 November 2026; the first: none of three).
 */
const NO_SINGLE = 0.025
const NO_SINGLE_TRANSFER = 0.06
/** Small faults are commoner than large ones: mean extra of a joint, mean growth of a weak cell. No source. */
const USUAL_JOINT_OHM = 0.001
const USUAL_GROWTH = 0.7
/** Capacity that a weak cell has lost, as a share: mean and spread. No source. */
const LOST = 0.05
const LOST_SPREAD = 0.1
/** How much rarer than a plain joint or weak cell each is thought before looking: common practice, no source. */
const PRICE_OF_TWO = Math.log(0.02)
const PRICE_OF_TAP = Math.log(0.2)
const PRICE_OF_OPEN = Math.log(0.3)
/** Parallel cells are alike to this share: what is left after one is open scatters by it. */
const ALIKE = 0.02
/** How far the open-circuit curve's slope may differ for a cell that empties faster, as a share: flat with knees for LFP. */
const BENDY = 0.25
const BENDY_LFP = 0.8
/**
 * How much of an extra resistance the fit may put into the slow part, or take from it, whatever causes it: clocks and filters
 * of current and voltage are known to some milliseconds only, and the whole extra is read through them. No source; a joint
 * of 0.8 mΩ in a cell of 1 mV steps at 5 Hz read −0.017 ± 0.002 mΩ of slow part, and was called a weak cell for it.
 */
const SPLIT = 0.04
/** Growths that are tried: even steps of the logarithm. */
const GROWTHS = Array.from({ length: 60 }, (_, j) => 0.05 * 80 ** (j / 59))
const GROWTH_STEP = Math.log(80) / 59
/** Sizes of a joint that are tried, over so many errors to either side. */
const JOINT_PLACES = 41
const WIDE = 6
/** A neighbour that no cause explains refutes by no more than this, natural logarithm: it may have a reason of its own. */
const MOST_UNEXPLAINED = 50

/**
 * How well each cause explains a cell that stands out in resistance, best first.
 *
 * Figures against peers: ohmic part x, slow part y, fall with charge z, bend w, with one 4 × 4 covariance of the cause. Over a
 * short or gentle drive y and z are told apart badly (what one gains the other loses): only their covariance says that a
 * slow part that seems grown and a fall that seems lessened are one and the same error.
 *
 *     joint       x = a        y = 0          z = 0             w = 0      a free
 *     weak        x = r·R₀     y = r·P        z ≥ 0 (some)      w = g(r)   r free; what grows, and how alike: `WAYS`
 *     both        x = a + r·R₀ y = r·P        z ≥ 0 (some)      w = g(r)   a and r free
 *     open        x = r·R₀     y = r·P        z = r·f           w = g(r)   r = m/(p − m), m of p parallel cells missing
 *     tap         x = a here, −a at the neighbour               w = 0      a free
 *
 * w is the bend: resistance that falls as the current rises, which only charge transfer has (`cell-kinetics`); g is what
 * it gains with r. Of charge transfer the ohmic part saturates: x is less than r·R₀ then. A pack that shows no bend
 * (g = 0) leaves w to say nothing.
 *
 * Evidence: the Student density of the figures (degrees: the blocks behind the covariance), meant over what the cause
 * leaves free, small faults being likelier; so a cause with more freedom pays for it. The ratio of two is the finding's
 * `likelihood_ratio`. Where the drive cannot tell, it is near 1.
 * Blind: a weak cell whose ohmic part alone has grown looks like a joint; the micro-ohm meter decides.
 */
export function explain(
  cell: CellAgainstPeers,
  better: CellAgainstPeers | null,
  usual: Usual,
): Explanation[] {
  const seen = seenOf(cell, usual)
  const found = [asJoint(seen), ...asWeak(seen, cell), ...asOpen(seen)]
  return (better ? withTap(found, cell, better) : found).sort((a, b) => b.logEvidence - a.logEvidence)
}

/** A cell's figures beside what the pack's typical cell would have them be. */
interface Seen {
  readonly figures: Figures
  readonly scale: Float64Array
  readonly degrees: number
  readonly usual: Usual
  /** Typical ohmic part, slow part and fall; a grown cell repeats what the slow parts' shape gets wrong. */
  readonly r0: number
  readonly p: number
  readonly fall: number
  /** Ohmic part that is no charge transfer, Ω. */
  readonly plain: number
  /** What a cell that lost `capacity` (share) and grew by `growth` falls more with charge, and how surely. */
  fallsBy(capacity: number, growth: number): number
  fallSpread(growth: number): number
}

function seenOf(cell: CellAgainstPeers, usual: Usual): Seen {
  const fall = Math.max(usual.fallVPerAh, 0)
  const bendy = usual.flat ? BENDY_LFP : BENDY
  return {
    figures: [cell.ohmic.value, cell.slow.value, cell.fall.value, cell.bend.value],
    scale: widened(cell.covariance, 0, SPLIT * Math.max(0, cell.ohmic.value), 0, 0),
    degrees: cell.estimate.degrees,
    usual,
    r0: usual.ohmicOhm,
    p: Math.max(usual.slowOhm, 0),
    fall,
    plain: Math.max(0, usual.ohmicOhm - usual.kinetics.ohmicOhm),
    fallsBy: (capacity, growth) => capacity * fall - growth * usual.shiftVPerAh,
    fallSpread: (growth) => Math.hypot(bendy * growth * fall, 0.5 * growth * usual.shiftVPerAh),
  }
}

const ALONE = { jointOhm: 0, jointError: 0, ratio: 1, ratioError: 0 } as const

function asJoint({ figures, scale, degrees }: Seen): Explanation {
  const joint = overJoint(figures, scale, degrees)
  return { ...ALONE, cause: 'joint', logEvidence: joint.log, jointOhm: joint.mean, jointError: joint.error }
}

/** A weak cell, over every growth and every way to grow; and one with a joint on top. */
function asWeak(seen: Seen, cell: CellAgainstPeers): Explanation[] {
  const { r0, p, degrees, usual } = seen
  const { kinetics } = usual
  const weak = new Weighed()
  const transfer = new Weighed()
  const both = new Weighed()
  const jointBeside = new Weighed()
  const uneven = EVEN + (1 - EVEN) * Math.min(1, kinetics.ohmicOhm / (MUCH * r0))
  for (const growth of GROWTHS) {
    const grown = kinetics.grown(1 + growth)
    for (const way of WAYS) {
      // over a pack without charge transfer to be seen, all of the ohmic part is what grows
      if (kinetics.bendOhm === 0 && way.ohmic === 0) continue
      const { share, off, wide } = grownBy(seen, growth, grown, way)
      const prior =
        Math.log(way.weight * (way === WAYS[0] ? 1 : uneven)) +
        Math.log((growth * GROWTH_STEP) / USUAL_GROWTH) -
        growth / USUAL_GROWTH
      const log = prior + logDensity(off, wide, degrees)
      weak.add(share, log)
      if (way.ohmic === 0) transfer.add(share, log)
      const beside = overJoint(off, wide, degrees)
      both.add(share, prior + beside.log)
      jointBeside.add(beside.mean, prior + beside.log, beside.error)
    }
  }
  // the figure given is the short-time one: the ohmic part alone, less the busbar that each plain reading holds
  const own = Math.max(r0 - PLAIN_LINK_OHM, r0 / 2)
  const grew = Math.max(0, cell.ohmic.value) / own
  const alone: Explanation = {
    ...ALONE,
    cause: 'weak',
    logEvidence: weak.log,
    ratio: 1 + grew,
    ratioError: Math.hypot(
      ohmicError(seen) / own,
      (grew * PLAIN_LINK_SPREAD) / own,
      grew * (NO_SINGLE + NO_SINGLE_TRANSFER * shareOf(transfer, weak)),
    ),
  }
  if (!(p > 0 || kinetics.bendOhm > 0)) return [alone]
  return [
    alone,
    {
      cause: 'joint-and-weak',
      logEvidence: both.log + PRICE_OF_TWO,
      jointOhm: jointBeside.mean,
      jointError: jointBeside.error,
      ratio: 1 + both.mean,
      ratioError: both.error,
    },
  ]
}

const ohmicError = ({ scale }: Seen): number => Math.sqrt(scale[0]!)

/** One growth in one way: its share of the ohmic part, what it leaves of the figures, and how wide they then are. */
function grownBy(
  { figures: [x, y, z, w], scale, r0, p, fall, plain, fallsBy, fallSpread }: Seen,
  growth: number,
  grown: ReturnType<Kinetics['grown']>,
  way: (typeof WAYS)[number],
): { share: number; off: Figures; wide: Float64Array } {
  const ohmic = way.ohmic * growth * plain + way.kinetic * grown.ohmicOhm
  return {
    share: ohmic / r0,
    off: [x - ohmic, y - way.slow * growth * p, z - fallsBy(LOST, growth), w - way.kinetic * grown.bendOhm],
    wide: widened(
      scale,
      UNEVEN * ohmic,
      way.slowSpread * growth * p,
      Math.hypot(fallSpread(growth), LOST_SPREAD * fall),
      UNEVEN_BEND * way.kinetic * grown.bendOhm,
    ),
  }
}

/** One parallel cell open, two, and so on. */
function asOpen(seen: Seen): Explanation[] {
  const { scale, degrees, usual, r0, p, plain, fallsBy } = seen
  const [x, y, z, w] = seen.figures
  const { parallel, kinetics } = usual
  const found: Explanation[] = []
  for (let missing = 1; parallel !== null && missing < parallel; missing++) {
    const growth = missing / (parallel - missing)
    const alike = ALIKE * (1 + growth)
    // a cell of less capacity is the first to reach the curve's knee: then it falls as fast as it likes
    const knee = Math.max(0, z - fallsBy(growth, growth) - 2 * Math.sqrt(scale[10]!))
    const grown = kinetics.grown(1 + growth)
    const ohmic = growth * plain + grown.ohmicOhm
    const wide = widened(
      scale,
      Math.hypot(alike * r0, UNEVEN * (growth * kinetics.ohmicOhm - grown.ohmicOhm)),
      Math.hypot(alike, 0.3 * growth) * p,
      Math.hypot(seen.fallSpread(growth), knee),
      Math.hypot(alike * kinetics.bendOhm, UNEVEN_BEND * grown.bendOhm),
    )
    const off = [x - ohmic, y - growth * p, z - fallsBy(growth, growth), w - grown.bendOhm] as const
    found.push({
      ...ALONE,
      cause: 'open',
      logEvidence: logDensity(off, wide, degrees) + PRICE_OF_OPEN + (missing > 1 ? PRICE_OF_TWO : 0),
      ratio: 1 + ohmic / r0,
      missing,
      ratioError: Math.hypot(ohmicError(seen) / r0, alike),
    })
  }
  return found
}

/** A neighbour reads better: a misplaced tap explains both, every other cause leaves the neighbour unexplained. */
function withTap(
  found: readonly Explanation[],
  { ohmic, slow, fall, bend, covariance, estimate }: CellAgainstPeers,
  better: CellAgainstPeers,
): Explanation[] {
  const here = ohmic.error ** -2
  const there = better.ohmic.error ** -2
  const moved = (ohmic.value * here - better.ohmic.value * there) / (here + there)
  const movedError = 1 / Math.sqrt(here + there)
  const neighbour = (off: number): number => normal(off, better.ohmic.error)
  const unexplained = Math.max(neighbour(better.ohmic.value), neighbour(0) - MOST_UNEXPLAINED)
  const tap: Explanation = {
    cause: 'tap',
    logEvidence:
      logDensity([ohmic.value - moved, slow.value, fall.value, bend.value], covariance, estimate.degrees) +
      neighbour(better.ohmic.value + moved) +
      Math.log((movedError * Math.sqrt(2 * Math.PI)) / USUAL_JOINT_OHM) -
      Math.max(0, moved) / USUAL_JOINT_OHM +
      PRICE_OF_TAP,
    jointOhm: moved,
    jointError: movedError,
    ratio: 1,
    ratioError: 0,
  }
  return [...found.map((each) => ({ ...each, logEvidence: each.logEvidence + unexplained })), tap]
}

type Figures = readonly [number, number, number, number]

function logDensity(off: Figures, scale: Float64Array, degrees: number): number {
  return studentDensity(scale, 4, degrees)?.log(off) ?? Number.NEGATIVE_INFINITY
}

/** A joint of any size on top of what is left over: ln of the mean density, and the size that fits, Ω. */
function overJoint(
  off: Figures,
  scale: Float64Array,
  degrees: number,
): { log: number; mean: number; error: number } {
  const none = { log: Number.NEGATIVE_INFINITY, mean: 0, error: 0 }
  const density = studentDensity(scale, 4, degrees)
  const inverse = invertSymmetric(scale, 4)
  if (!density || !inverse) return none
  // where y and z are what they are, x is expected here, and so well known
  const likely = off[0] + (inverse[1]! * off[1] + inverse[2]! * off[2] + inverse[3]! * off[3]) / inverse[0]!
  const width = (WIDE / Math.sqrt(inverse[0]!)) * Math.sqrt(1 + 4 / degrees)
  const from = Math.max(0, likely - width)
  const to = likely + width
  if (!(to > from)) return none
  const step = (to - from) / JOINT_PLACES
  const sizes = new Weighed()
  for (let j = 0; j < JOINT_PLACES; j++) {
    const ohm = from + (j + 0.5) * step
    const prior = Math.log(step / USUAL_JOINT_OHM) - ohm / USUAL_JOINT_OHM
    sizes.add(ohm, prior + density.log([off[0] - ohm, off[1], off[2], off[3]]))
  }
  return { log: sizes.log, mean: sizes.mean, error: sizes.error }
}

/** The covariance with what a cause leaves open about each figure. */
function widened(scale: Float64Array, ohmic: number, slow: number, fall: number, bend: number): Float64Array {
  const wide = scale.slice()
  ;[ohmic, slow, fall, bend].forEach((spread, j) => {
    wide[j * 5]! += spread ** 2
  })
  return wide
}

/** Values with weights given by their logarithms. */
class Weighed {
  private readonly all: { readonly value: number; readonly log: number; readonly spread: number }[] = []

  add(value: number, log: number, spread = 0): void {
    this.all.push({ value, log, spread })
  }

  /** ln of the weights' sum. */
  get log(): number {
    const most = Math.max(...this.all.map((each) => each.log))
    if (!Number.isFinite(most)) return Number.NEGATIVE_INFINITY
    return most + Math.log(this.all.reduce((sum, each) => sum + Math.exp(each.log - most), 0))
  }

  get mean(): number {
    return this.over((each) => each.value)
  }

  get error(): number {
    const { mean } = this
    return Math.sqrt(this.over((each) => (each.value - mean) ** 2 + each.spread ** 2))
  }

  private over(of: (each: { value: number; spread: number }) => number): number {
    const { log } = this
    if (!Number.isFinite(log)) return 0
    return this.all.reduce((sum, each) => sum + Math.exp(each.log - log) * of(each), 0)
  }
}

/** How much of the weight is a part's. */
function shareOf(part: Weighed, all: Weighed): number {
  return Number.isFinite(all.log) ? Math.exp(part.log - all.log) : 0
}

/** ln of a normal density. */
function normal(value: number, spread: number): number {
  return -0.5 * (value / spread) ** 2 - Math.log(spread) - 0.5 * Math.log(2 * Math.PI)
}
