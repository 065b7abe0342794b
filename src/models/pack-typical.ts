import type { Facts } from '../analyses/analysis.ts'
import { family } from '../analyses/analysis.ts'
import { linearAt } from '../drive/on-one-clock.ts'
import { productsOf, type Solution, solveWithPriors } from '../math/prior-regression.ts'
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
/** Ohmic and slow resistance fall by this share per kelvin about 25 °C (Arrhenius, 2500 K and 4500 K): from memory. */
const OHMIC_PER_K = 0.028
const SLOW_PER_K = 0.05
/** How well a stated open-circuit curve's slope is known, as a share. */
const SLOPE_TOLERANCE = 0.05
/** Seconds over which the residual hangs together: so many rows count as one. */
const TOGETHER_S = 30

/**
 * The typical cell, from the mean over a dozen cells in bins of a second.
 *
 * Model:  v(t) = a + U(s₀ − q/C) − d · q − R₀(T) · i − P₁(T) · s₁ − P₂(T) · s₂
 *   U the vehicle file's open-circuit curve from the charge that the first rest shows (d then is held near 0), without
 *   one U = 0 and d is free; R(T), P(T) fall with the modules' mean temperature by one shared Arrhenius factor, fitted
 *   with 1 ± ½ times the usual slope expected.
 * Time constants: the pair with the least residual; pairs that do nearly as well widen the errors.
 */
export function packTypical(
  facts: Facts,
  table: CellTable,
  through: ThroughCurrent,
  lag: CellLag | null,
  fast: Float64Array,
  widthS: number,
): PackTypical | null {
  const taus = [...FAST_TAUS_S, ...SLOW_TAUS_S]
  const every = Math.max(1, Math.floor(table.cells.length / 12))
  const few = table.cells.map((_, at) => at).filter((at) => at % every === 0)
  const some: CellTable = { ...table, cells: few.map((at) => table.cells[at]!) }
  const lagOfFew = lag && { ...lag, lagS: Float64Array.from(few, (at) => lag.lagS[at]!) }
  const slow = taus.map((tauS) => behindLag(through, tauS, fast))
  const bins = binCells(some, through, lagOfFew, widthS, fast, slow, true)
  const design = meanDesign(bins)
  const rows: number[] = []
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
    if (count > 0.7 * few.length && Number.isFinite(design.fast[bin]!)) rows.push(bin)
  }
  if (rows.length < 30) return null
  const curve = knownCurve(facts, volts[rows[0]!]!)
  const y = Float64Array.from(rows, (bin) => volts[bin]! - (curve ? curve(design.charge[bin]!) : 0))
  const pick = (column: Float64Array): Float64Array => Float64Array.from(rows, (bin) => column[bin]!)
  const warmth = warming(facts, rows, bins.startS, widthS)
  const slopeV = (curve ? Math.abs(curve(0) - curve(1)) : 0) * SLOPE_TOLERANCE
  const columns = [pick(design.fast), ...design.slow.map(pick), pick(design.charge)]
  const one = new Float64Array(rows.length).fill(1)
  const effective = Math.max(5, (rows.length * widthS) / TOGETHER_S)
  const cost = (each: Solved): number =>
    each.variance * (1 + (Math.log(each.tauS[1] / USUAL_SLOW_S) / Math.log(SLOW_FACTOR)) ** 2 / effective)
  let best: Solved | null = null
  let all: Solved[] = []
  // the temperature's column needs resistances: two rounds
  for (let round = 0; round < (warmth ? 3 : 1); round++) {
    const warm = warmth && best ? warmthColumn(columns, warmth, best) : null
    const products = productsOf([...columns, one, ...(warm ? [warm] : [])], y)
    const noise = (best?.variance ?? 1e-6) * Math.max(1, TOGETHER_S / widthS)
    all = []
    FAST_TAUS_S.forEach((tau1, a) => {
      SLOW_TAUS_S.forEach((tau2, b) => {
        if (!curve && tau2 !== USUAL_SLOW_S) return
        const places = [0, 1 + a, 1 + FAST_TAUS_S.length + b, columns.length - 1, columns.length]
        if (warm) places.push(columns.length + 1)
        const priors = [
          ...(slopeV > 0 ? [{ at: 3, mean: 0, spread: slopeV }] : []),
          ...(warm ? [{ at: 5, mean: 1, spread: 0.5 }] : []),
        ]
        const found = solveWithPriors(products, places, priors, noise, [1, 2])
        if (found) all.push({ ...found, tauS: [tau1, tau2] })
      })
    })
    best = all.reduce<Solved | null>(
      (least, each) => (!least || cost(each) < cost(least) ? each : least),
      null,
    )
    if (!best) return null
  }
  if (!best) return null
  const near = all.filter((each) => cost(each) < cost(best!) * (1 + 4 / effective))
  const apart = (of: (each: Solved) => number): number =>
    Math.max(...near.map((each) => Math.abs(of(each) - of(best!))))
  const ohmic = (each: Solved): number => -each.coefficients[0]!
  const settled = (each: Solved): number => -each.coefficients[1]! - each.coefficients[2]!
  const slowOhm = settled(best)
  const charge = columns[columns.length - 1]!
  const spanAh = charge[charge.length - 1]! - charge[0]!
  const own = curve ? curve(charge[charge.length - 1]!) - curve(charge[0]!) : 0
  return {
    of: few,
    tauS: best.tauS,
    firstShare: slowOhm > 1e-6 ? Math.max(0, Math.min(1, -best.coefficients[1]! / slowOhm)) : 0.5,
    ohmicOhm: ohmic(best),
    slowOhm,
    fallVPerAh: -best.coefficients[3]! - (Math.abs(spanAh) > 0.01 ? own / spanAh : 0),
    ohmicError: Math.hypot(Math.sqrt(best.covariance[0]!), apart(ohmic) / 3),
    slowError: Math.hypot(sumError(best), apart(settled) / 2, (curve ? 0.09 : 0.2) * slowOhm),
  }
}

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

/** Mean temperature of the modules about its own mean, K, at the rows; null where it hardly changes or is not logged. */
function warming(facts: Facts, rows: readonly number[], startS: number, widthS: number): Float64Array | null {
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
  return Math.max(...change) - Math.min(...change) > 0.5 ? change : null
}

interface Solved extends Solution {
  readonly tauS: [number, number]
}

/** What warmer cells give back: (R₀ · a · i + P₁ · b · s₁ + P₂ · b · s₂) · ΔT. */
function warmthColumn(columns: readonly Float64Array[], warmth: Float64Array, best: Solved): Float64Array {
  const a = 1 + FAST_TAUS_S.indexOf(best.tauS[0])
  const b = 1 + FAST_TAUS_S.length + SLOW_TAUS_S.indexOf(best.tauS[1])
  const [r0, p1, p2] = [-best.coefficients[0]!, -best.coefficients[1]!, -best.coefficients[2]!]
  return warmth.map(
    (kelvin, i) =>
      kelvin *
      (r0 * OHMIC_PER_K * columns[0]![i]! + SLOW_PER_K * (p1 * columns[a]![i]! + p2 * columns[b]![i]!)),
  )
}

/** Standard error of both slow parts' sum. */
function sumError({ covariance, coefficients }: Solution): number {
  const k = coefficients.length
  return Math.sqrt(Math.max(0, covariance[k + 1]! + covariance[2 * k + 2]! + 2 * covariance[k + 2]!))
}
