import { fallPerKelvin, type WarmthLaw, warmthFactor, warmthLaw } from '../../car/resistance-warmth.ts'
import type { Facts } from '../../facts/facts.ts'
import { family } from '../../facts/facts.ts'
import { picked } from '../../math/picked.ts'
import { productsOf, type Solution, solveWithPriors } from '../../math/prior-regression.ts'
import { linearAt } from '../../samples/on-one-clock.ts'
import { binCells, type CellBins, type Design } from './cell-design.ts'
import type { CellLag } from './cell-lag.ts'
import type { CellTable } from './cell-series.ts'
import { openCircuit, socAt, voltsAt } from './open-circuit.ts'
import { behindLag, type ThroughCurrent } from './pack-through-current.ts'

/** The mean cell of the pack: what all cells share, and the shape of their slow parts. */
export interface PackTypical {
  /** Places in `table.cells` of the cells whose mean this is. */
  readonly of: readonly number[]
  readonly tauS: readonly [number, number]
  /** Share of the first slow part. */
  readonly firstShare: number
  readonly ohmicOhm: number
  readonly slowOhm: number
  /** Mean fall of the open-circuit voltage with charge, V per A·h. */
  readonly fallVPerAh: number
  /** Standard errors, what the time constants leave open included. */
  readonly ohmicError: number
  readonly slowError: number
}

const FAST_TAUS_S = [6, 10, 16, 25, 40, 60]
const SLOW_TAUS_S = [90, 150, 250, 400, 700]
/**
 * The slower part's constant that is expected, and by what factor it may well differ (from memory): a drive of minutes
 * tells it badly from the open-circuit curve. Without a known curve it is not tried at all.
 */
const USUAL_SLOW_S = 250
const SLOW_FACTOR = 1.5
/** How well a stated open-circuit curve's slope is known, as a share. */
const SLOPE_TOLERANCE = 0.05
/**
 * How much an unknown open-circuit curve may bend, per slope squared, 1/V: the slope changes by half over a quarter of
 * the charge, whose whole spans about half a volt to one (from memory).
 */
const BEND_OF_SLOPE = 4
/** Error of the slow parts' sum where one of them is held at zero, as a share: both are usually alike (from memory). */
const UNSEEN = 0.4
/** Seconds over which the residual hangs together: so many rows count as one. */
const TOGETHER_S = 30
/** So many cells, spread over the pack, stand for all; a bin counts where this share of them was read; no source. */
const CELLS_MEANT = 12
const READ_SHARE = 0.7
/** Fewer bins give no figure; no source. */
const FEWEST_ROWS = 30
const ROUNDS = 3
/** Less charge taken shows nothing of the curve's own fall, A·h; no source. */
const LEAST_SPAN_AH = 0.01
/** What the sum of slow parts is off by, as a share, with a stated curve and without. study:pack. */
const CURVE_ERROR = 0.09
const NO_CURVE_ERROR = 0.2
/** Cooler or warmer by less over the drive: no column of its own, K; no source. */
const LEAST_CHANGE_C = 0.5

/**
 * The typical cell, from the mean over a dozen cells in bins of a second.
 *
 * Model:  v(t) = a + U(s₀ − q/C) − d · q − R₀(T) · i − P₁(T) · s₁ − P₂(T) · s₂
 *   U the vehicle file's open-circuit curve from the charge that the first rest shows (d then is held near 0), without
 *   one U = 0, d is free and a bend of it in q² is allowed for; R(T), P(T) fall with the modules' mean temperature by
 *   one shared Arrhenius factor, fitted
 *   with 1 ± ½ times the usual slope expected.
 * Time constants: the pair with the least residual gives the shape; the figures are means over all pairs, each by how
 * well it does, and their scatter is part of the errors.
 */
export function packTypical(
  facts: Facts,
  table: CellTable,
  through: ThroughCurrent,
  lag: CellLag | null,
  fast: Float64Array,
  widthS: number,
): PackTypical | null {
  const every = Math.max(1, Math.floor(table.cells.length / CELLS_MEANT))
  const few = table.cells.map((_, at) => at).filter((at) => at % every === 0)
  const some: CellTable = { ...table, cells: few.map((at) => table.cells[at]!) }
  const lagOfFew = lag && { ...lag, lagS: picked(lag.lagS, few) }
  const slow = [...FAST_TAUS_S, ...SLOW_TAUS_S].map((tauS) => behindLag(through, tauS, fast))
  const bins = binCells(some, through, lagOfFew, widthS, fast, slow, true)
  const rows = meanRows(facts, bins, widthS)
  if (!rows) return null
  const effective = Math.max(5, (rows.y.length * widthS) / TOGETHER_S)
  const solved = solvePairs(facts, rows, effective, widthS)
  return solved && { of: few, ...overPairs(solved, rows, effective) }
}

/** The mean cell where enough of the cells were read: what it follows, column by column, and what it read. */
interface MeanRows {
  /** Voltage, less the vehicle file's open-circuit curve at the charge taken, V. */
  readonly y: Float64Array
  readonly design: Design
  /** Open-circuit voltage after so many A·h; null without a stated curve. */
  readonly curve: ((takenAh: number) => number) | null
  readonly warmth: Warmth | null
}

function meanRows(facts: Facts, bins: CellBins, widthS: number): MeanRows | null {
  const design = meanDesign(bins)
  const places: number[] = []
  const volts = new Float64Array(bins.bins)
  for (let bin = 0; bin < bins.bins; bin++) {
    let sum = 0
    let count = 0
    for (const each of bins.volts)
      if (Number.isFinite(each[bin]!)) {
        sum += each[bin]!
        count++
      }
    volts[bin] = sum / count
    if (count > READ_SHARE * bins.volts.length && Number.isFinite(design.fast[bin]!)) places.push(bin)
  }
  if (places.length < FEWEST_ROWS) return null
  const pick = (column: Float64Array): Float64Array => picked(column, places)
  const curve = knownCurve(facts, volts[places[0]!]!)
  return {
    y: Float64Array.from(places, (bin) => volts[bin]! - (curve ? curve(design.charge[bin]!) : 0)),
    design: { fast: pick(design.fast), slow: design.slow.map(pick), charge: pick(design.charge) },
    curve,
    warmth: warming(facts, places, bins.startS, widthS),
  }
}

/**
 * Every pair of time constants that is tried, and the likeliest: a column each for the ohmic part, all slow parts and the
 * charge. Warmth's column needs resistances, the bend's expectation a slope: two rounds and one more.
 */
function solvePairs(
  facts: Facts,
  { y, design, curve, warmth }: MeanRows,
  effective: number,
  widthS: number,
): { readonly all: readonly Solved[]; readonly best: Solved } | null {
  // by the usual slopes first: over tens of kelvin they bend, and only what is left is straight enough for a column
  const law = warmthLaw(facts.vehicle.pack?.chemistry)
  const usual = (activationK: number, column: Float64Array): Float64Array =>
    warmth
      ? column.map(
          (value, i) => value * warmthFactor(activationK, warmth.meanC + warmth.changeK[i]!, warmth.meanC),
        )
      : column
  const columns = [
    usual(law.ohmic.kelvin, design.fast),
    ...design.slow.map((column) => usual(law.slow.kelvin, column)),
    design.charge,
  ]
  const one = new Float64Array(y.length).fill(1)
  const squared = aboutMiddle(design.charge).map((ah) => ah ** 2)
  const slopeV = (curve ? Math.abs(curve(0) - curve(1)) : 0) * SLOPE_TOLERANCE
  let best: Solved | null = null
  let all: Solved[] = []
  for (let round = 0; round < (warmth || !curve ? ROUNDS : 1); round++) {
    const more: { column: Float64Array; spread: number }[] = []
    if (warmth && best) more.push({ column: warmthColumn(columns, warmth, law, best), spread: 0.5 })
    if (!curve && best)
      more.push({ column: squared, spread: BEND_OF_SLOPE * best.coefficients[3]! ** 2 + 1e-9 })
    const products = productsOf([...columns, one, ...more.map((each) => each.column)], y)
    const noise = (best?.variance ?? 1e-6) * Math.max(1, TOGETHER_S / widthS)
    const priors = [
      ...(slopeV > 0 ? [{ at: 3, mean: 0, spread: slopeV }] : []),
      ...more.map(({ spread }, j) => ({ at: 5 + j, mean: 0, spread })),
    ]
    all = []
    for (const [a, tau1] of FAST_TAUS_S.entries())
      for (const [b, tau2] of SLOW_TAUS_S.entries()) {
        if (!curve && tau2 !== USUAL_SLOW_S) continue
        const places = [0, 1 + a, 1 + FAST_TAUS_S.length + b, columns.length - 1, columns.length]
        places.push(...more.map((_, j) => columns.length + 1 + j))
        const found = solveWithPriors(products, places, priors, noise, [1, 2])
        if (found) all.push({ ...found, tauS: [tau1, tau2] })
      }
    best = likeliest(all, effective)
    if (!best) return null
  }
  return best && { all, best }
}

/** What a pair leaves over, and how far its slow constant lies from the usual one. */
const costOf = (each: Solved, effective: number): number =>
  each.variance * (1 + (Math.log(each.tauS[1] / USUAL_SLOW_S) / Math.log(SLOW_FACTOR)) ** 2 / effective)

function likeliest(all: readonly Solved[], effective: number): Solved | null {
  return all.reduce<Solved | null>(
    (least, each) => (!least || costOf(each, effective) < costOf(least, effective) ? each : least),
    null,
  )
}

/** The likeliest pair's shape; figures as means over all pairs, those that do nearly as well counting in proportion. */
function overPairs(
  { all, best }: { readonly all: readonly Solved[]; readonly best: Solved },
  { design: { charge }, curve }: MeanRows,
  effective: number,
): Omit<PackTypical, 'of'> {
  const least = costOf(best, effective)
  const likely = all.map((each) => Math.exp((-effective / 2) * (costOf(each, effective) / least - 1)))
  const over = (of: (each: Solved) => number): number =>
    all.reduce((sum, each, i) => sum + likely[i]! * of(each), 0) / likely.reduce((sum, each) => sum + each, 0)
  const apart = (of: (each: Solved) => number, middle: number): number =>
    Math.sqrt(over((each) => (of(each) - middle) ** 2))
  const spanAh = charge[charge.length - 1]! - charge[0]!
  const own = curve ? curve(charge[charge.length - 1]!) - curve(charge[0]!) : 0
  const ohmicOhm = over(ohmic)
  const slowOhm = over(settled)
  const bestOhm = settled(best)
  return {
    tauS: best.tauS,
    firstShare: bestOhm > 1e-6 ? Math.max(0, Math.min(1, -best.coefficients[1]! / bestOhm)) : 0.5,
    ohmicOhm,
    slowOhm,
    fallVPerAh:
      -over((each) => each.coefficients[3]!) - (Math.abs(spanAh) > LEAST_SPAN_AH ? own / spanAh : 0),
    ohmicError: Math.hypot(Math.sqrt(best.covariance[0]!), apart(ohmic, ohmicOhm)),
    slowError: Math.hypot(
      sumError(best),
      apart(settled, slowOhm),
      (curve ? CURVE_ERROR : NO_CURVE_ERROR) * slowOhm,
      over(heldAtZero) * UNSEEN * slowOhm,
    ),
  }
}

/** Less the middle between the first and the last. */
function aboutMiddle(charge: Float64Array): Float64Array {
  const middleAh = (charge[0]! + charge[charge.length - 1]!) / 2
  return charge.map((ah) => ah - middleAh)
}

const ohmic = ({ coefficients }: Solved): number => -coefficients[0]!
/** One slow part was held at zero: the drive does not show it, and its share of the sum is open. */
const heldAtZero = ({ coefficients }: Solved): number =>
  Math.min(-coefficients[1]!, -coefficients[2]!) < 1e-8 ? 1 : 0
const settled = ({ coefficients }: Solved): number => -coefficients[1]! - coefficients[2]!

/** What the mean of the cells follows: the mean of their designs. */
function meanDesign({ designs, designOf, bins }: CellBins): Design {
  const mean = (of: (design: Design) => Float64Array): Float64Array => {
    const sum = new Float64Array(bins)
    for (const at of designOf) {
      const column = of(designs[at]!)
      for (let bin = 0; bin < bins; bin++) sum[bin]! += column[bin]! / designOf.length
    }
    return sum
  }
  return {
    fast: mean((design) => design.fast),
    slow: designs[0]!.slow.map((_, j) => mean((design) => design.slow[j]!)),
    charge: mean((design) => design.charge),
  }
}

/** Open-circuit voltage after so many A·h, from the vehicle file's curve; null without curve or capacity. */
function knownCurve(facts: Facts, firstV: number): ((takenAh: number) => number) | null {
  const capacity = facts.vehicle.pack?.capacity_ah
  if (!capacity || !facts.vehicle.pack?.ocv) return null
  const curve = openCircuit(facts.vehicle, firstV)
  if (!curve) return null
  const start = socAt(curve, firstV)
  return (takenAh) => voltsAt(curve, start - (100 * takenAh) / capacity)
}

interface Warmth {
  readonly meanC: number
  /** About its mean, at the rows, K. */
  readonly changeK: Float64Array
}

/** Mean temperature of the modules at the rows; null where it hardly changes or is not logged. */
function warming(facts: Facts, rows: readonly number[], startS: number, widthS: number): Warmth | null {
  const at = Float64Array.from(rows, (bin) => startS + (bin + 0.5) * widthS)
  const sum = new Float64Array(rows.length)
  let sensors = 0
  for (const { channel } of family(facts, 'module_temperature')) {
    const celsius = linearAt(channel, at)
    for (let i = 1; i < celsius.length; i++) if (!Number.isFinite(celsius[i]!)) celsius[i] = celsius[i - 1]!
    for (let i = celsius.length - 2; i >= 0; i--)
      if (!Number.isFinite(celsius[i]!)) celsius[i] = celsius[i + 1]!
    if (!Number.isFinite(celsius[0]!)) continue
    for (let i = 0; i < sum.length; i++) sum[i]! += celsius[i]!
    sensors++
  }
  if (sensors === 0) return null
  const mean = sum.reduce((total, value) => total + value, 0) / sum.length
  const change = sum.map((value) => (value - mean) / sensors)
  return Math.max(...change) - Math.min(...change) > LEAST_CHANGE_C
    ? { meanC: mean / sensors, changeK: change }
    : null
}

interface Solved extends Solution {
  readonly tauS: [number, number]
}

/** What warmer cells give back: (R₀ · a · i + P₁ · b · s₁ + P₂ · b · s₂) · ΔT. */
function warmthColumn(
  columns: readonly Float64Array[],
  { meanC, changeK }: Warmth,
  law: WarmthLaw,
  best: Solved,
): Float64Array {
  const a = 1 + FAST_TAUS_S.indexOf(best.tauS[0])
  const b = 1 + FAST_TAUS_S.length + SLOW_TAUS_S.indexOf(best.tauS[1])
  const [r0, p1, p2] = [-best.coefficients[0]!, -best.coefficients[1]!, -best.coefficients[2]!]
  const ohmicPerK = fallPerKelvin(law.ohmic.kelvin, meanC)
  const slowPerK = fallPerKelvin(law.slow.kelvin, meanC)
  return changeK.map(
    (kelvin, i) =>
      kelvin * (r0 * ohmicPerK * columns[0]![i]! + slowPerK * (p1 * columns[a]![i]! + p2 * columns[b]![i]!)),
  )
}

/** Standard error of both slow parts' sum. */
function sumError({ covariance, coefficients }: Solution): number {
  const k = coefficients.length
  return Math.sqrt(Math.max(0, covariance[k + 1]! + covariance[2 * k + 2]! + 2 * covariance[k + 2]!))
}
