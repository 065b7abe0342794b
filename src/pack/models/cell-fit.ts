import { moduleOfCell } from '../../../shared/vehicle.ts'
import { packCurrent } from '../../car/pack-current.ts'
import type { Facts } from '../../facts/facts.ts'
import { type BlockFit, blockRegression, sharedColumns } from '../../math/many-regressions.ts'
import { median } from '../../math/stats.ts'
import { samplePeriod } from '../../samples/on-one-clock.ts'
import { type Burst, burstOf } from './cell-bursts.ts'
import { binCells, type CellBins } from './cell-design.ts'
import { bendColumn, type Kinetics, kineticsOf } from './cell-kinetics.ts'
import { type CellLag, cellLag } from './cell-lag.ts'
import { type CellTable, cellTable } from './cell-series.ts'
import { behindLag, type ThroughCurrent, throughCurrent } from './pack-through-current.ts'
import { packTypical } from './pack-typical.ts'

/** One cell's answer to current. All with the current counted positive on discharge. */
export interface CellEstimate {
  readonly cell: number
  readonly module: number
  /** Drop that follows the current at once (within `windowS`), Ω: the cell and the joint read with it. */
  readonly ohmicOhm: number
  /** Drop of the slower parts once settled, Ω. */
  readonly slowOhm: number
  /** Fall of the open-circuit voltage with charge taken, V per A·h. */
  readonly fallVPerAh: number
  /** Voltage without load at the drive's middle charge, V. */
  readonly offsetV: number
  /** Of (ohmicOhm, slowOhm, fallVPerAh, offsetV), 4 × 4 row-major: the fit's error, common errors taken out. */
  readonly covariance: Float64Array
  /** Resistance that falls as the current rises, Ω on the bend's column (`cell-kinetics`): charge transfer, never metal. */
  readonly bendOhm: number
  /** Covariance of `bendOhm` with (ohmicOhm, slowOhm, fallVPerAh), and its own variance. */
  readonly bendCovariance: Float64Array
  readonly degrees: number
  /** Robust spread of single bins about the fit, V. */
  readonly spreadV: number
  readonly bins: number
  /** A resistance that comes and goes beside the figures above; null where none shows. */
  readonly burst: Burst | null
}

export interface CellFit {
  readonly table: CellTable
  readonly through: ThroughCurrent
  readonly bins: CellBins
  readonly lag: CellLag | null
  /** Time constants of the two slow parts, and the share of the first. */
  readonly tauS: readonly [number, number]
  readonly firstShare: number
  /** Time scale of `ohmicOhm`: what is faster is in it too. */
  readonly windowS: number
  readonly cells: readonly CellEstimate[]
  /** The pack's typical cell: median over the cells; the error is what all share. */
  readonly typical: { readonly ohmicOhm: number; readonly slowOhm: number; readonly fallVPerAh: number }
  readonly typicalError: { readonly ohmicOhm: number; readonly slowOhm: number }
  /** What the common model moved of the cells' own fits: an error of the slow parts' shape goes into them like that. */
  readonly shift: { readonly slowOhm: number; readonly fallVPerAh: number }
  readonly kinetics: Kinetics
  readonly gainPercent: number
  /** Charge at which `offsetV` holds, A·h taken since the start. */
  readonly middleAh: number
  /** Voltage of each cell with the pack's common wandering taken out, a bin each, V. */
  readonly cleaned: readonly Float64Array[]
}

const MOST_BINS = 5000
/** Bins are not made wider than this to save time, unless the log lasts hours, s. */
const FINE_S = 0.5
const BLOCK_S = 30
/** A residual of one measuring step is no stray: Huber's bend (2.5 spreads) lies there or beyond. */
const ONE_STEP = 0.4
/** From so much fall of the open-circuit voltage on, its bend is fitted too, V. */
const DEEP_V = 0.08

/**
 * How each cell's voltage follows the current: one regression a cell, all on the same columns.
 *
 * Model:  v(t) = offset − R₀ · i(t − lag) − P · s(t) − f · q(t) + c(t)
 *   i  current behind the voltage filter; lag and filter are found from the data where the rates allow (`cellLag`)
 *   s  state of two RC pairs (tens and hundreds of seconds, found for the pack), in the pack's proportion
 *   q  charge taken; f the fall of the open-circuit voltage with it (arXiv 2505.06410: without it R is too high)
 *   c  what wanders for all cells of a module alike (temperature, curvature of the open-circuit voltage): the mean
 *      of their residuals, taken out before the second pass
 * Rows leave where the reading is a held repeat or unbelievable, where the current was clipped or missing, and where
 * the cell or its neighbour is bled by the balancer. Outliers are weighted down (Huber).
 *
 * Gives null without current or cells, or when the current moved too little for any figure.
 * Biased by: the current sensor's gain (enters every interval by its tolerance); a current slower than the voltages
 * (then levels are fitted over wider bins and `windowS` says so).
 */
export function cellFit(facts: Facts): CellFit | null {
  const table = facts.once(cellTable)
  const current = facts.once(packCurrent)
  if (!current || table.cells.length === 0) return null
  const through = throughCurrent(current, samplePeriod(current.timeS), facts.drive.durationS)
  if (!through || !moved(through)) return null
  const moduleOf = (cell: number): number => moduleOfCell(facts.layout, cell)
  const lag = cellLag(table, through, moduleOf)
  const fast = behindLag(through, lag?.filterS ?? 0)
  const widthS = binWidth(table, through)
  const mean = packTypical(facts, table, through, lag, fast, Math.max(widthS, 1))
  if (!mean) return null
  const shape = mix(
    behindLag(through, mean.tauS[0], fast),
    behindLag(through, mean.tauS[1], fast),
    mean.firstShare,
  )
  const bins = binCells(table, through, lag, widthS, fast, [shape])
  const middleAh = median(bins.designs[0]!.charge)
  // over a deep swing a cell's capacity shows along the bent curve, not along a line
  const bent = swingAh(through) * Math.abs(mean.fallVPerAh) > DEEP_V
  const columns = columnsOf(bins, middleAh, bent)
  const modules = table.cells.map(({ cell }) => moduleOf(cell))
  const { found, cleaned } = twoPasses(bins, columns, table, modules, widthS)
  // what the common model knows better (temperature, open-circuit curve) moves all cells alike
  const shift = [mean.ohmicOhm, mean.slowOhm, mean.fallVPerAh].map((value, j) => {
    const same = mean.of.flatMap((at) => (found[at] ? [-found[at].coefficients[j]!] : []))
    return same.length > 0 ? value - same.reduce((sum, each) => sum + each, 0) / same.length : 0
  })
  const cells = found.flatMap((each, at): CellEstimate[] => {
    if (!each) return []
    const { fast } = bins.designs[bins.designOf[at]!]!
    return [{ cell: table.cells[at]!.cell, module: modules[at]!, ...estimateOf(each, shift, fast) }]
  })
  if (cells.length === 0) return null
  const middle = (of: (each: CellEstimate) => number): number => median(cells.map(of))
  return {
    table,
    through,
    bins,
    lag,
    tauS: mean.tauS,
    firstShare: mean.firstShare,
    windowS: Math.max(widthS, table.periodS, lag?.filterS ?? 0, through.periodS),
    cells,
    typical: {
      ohmicOhm: middle((each) => each.ohmicOhm),
      slowOhm: middle((each) => each.slowOhm),
      fallVPerAh: middle((each) => each.fallVPerAh),
    },
    typicalError: { ohmicOhm: mean.ohmicError, slowOhm: mean.slowError },
    shift: { slowOhm: shift[1]!, fallVPerAh: shift[2]! },
    kinetics: kineticsOf(
      columns[0]!.plain,
      columns[0]!.saturating,
      middle((each) => each.bendOhm),
      middle((each) => each.ohmicOhm),
    ),
    gainPercent: current.gainPercent,
    middleAh,
    cleaned,
  }
}

/** What every cell of a design is fitted on: offset and all but the saturating part, that part, and both together. */
interface Columns {
  readonly plain: ReturnType<typeof sharedColumns>
  readonly saturating: Float64Array
  readonly all: ReturnType<typeof sharedColumns>
}

function columnsOf(bins: CellBins, middleAh: number, bent: boolean): Columns[] {
  const ones = new Float64Array(bins.bins).fill(1)
  const usualA = Math.max(5, rmsOf(bins.designs[0]!.fast))
  return bins.designs.map((design) => {
    const charge = design.charge.map((value) => value - middleAh)
    const bend = bent ? [charge.map((value) => value * value)] : []
    const plain = sharedColumns([design.fast, design.slow[0]!, charge, ones, ...bend])
    const saturating = bendColumn(design.fast, plain, usualA)
    return { plain, saturating, all: sharedColumns([...plain.columns, saturating]) }
  })
}

/** Every cell's regression, once as read and once, robustly, without what its module wanders by in common. */
function twoPasses(
  bins: CellBins,
  columns: readonly Columns[],
  table: CellTable,
  modules: readonly number[],
  widthS: number,
): { found: (BlockFit | null)[]; cleaned: Float64Array[] } {
  const blocks = Math.min(80, Math.max(8, Math.round((bins.bins * widthS) / BLOCK_S)))
  const blockOf = Int32Array.from({ length: bins.bins }, (_, bin) => Math.floor((bin * blocks) / bins.bins))
  const regress = (volts: Float64Array, at: number, robust: boolean): BlockFit | null =>
    blockRegression(
      columns[bins.designOf[at]!]!.all,
      volts,
      blockOf,
      blocks,
      robust,
      ONE_STEP * table.cells[at]!.stepV,
    )
  const first = bins.volts.map((volts, at) => regress(volts, at, false))
  const common = commonResidual(first, modules, bins.bins)
  const cleaned = bins.volts.map((volts, at) => {
    const shared = common.get(modules[at]!)!
    return volts.map((value, bin) => value - shared[bin]!)
  })
  return { found: cleaned.map((volts, at) => regress(volts, at, true)), cleaned }
}

/** A cell's figures from its regression. @param shift what the typical cell's figures lie above the regressions' own */
function estimateOf(
  fit: BlockFit,
  shift: readonly number[],
  fast: Float64Array,
): Omit<CellEstimate, 'cell' | 'module'> {
  const c = fit.coefficients
  const bendAt = c.length - 1
  return {
    ohmicOhm: shift[0]! - c[0]!,
    slowOhm: shift[1]! - c[1]!,
    fallVPerAh: shift[2]! - c[2]!,
    offsetV: c[3]!,
    covariance: ofFirstFour(fit.covariance),
    bendOhm: -c[bendAt]!,
    bendCovariance: [0, 1, 2, bendAt].reduce(
      (row, column, j) => row.fill(fit.covariance[bendAt * c.length + column]!, j, j + 1),
      new Float64Array(4),
    ),
    degrees: fit.degrees,
    spreadV: fit.spread,
    bins: fit.rows,
    burst: burstOf(fit.residuals, fast, fit.spread),
  }
}

/**
 * The first four coefficients' covariance, signs of the first three turned: their covariances with the offset turn.
 */
function ofFirstFour(covariance: Float64Array): Float64Array {
  const k = Math.round(Math.sqrt(covariance.length))
  return Float64Array.from({ length: 16 }, (_, j) => {
    const [row, column] = [j >> 2, j & 3]
    const value = covariance[row * k + column]!
    return (row === 3) === (column === 3) ? value : -value
  })
}

/** Root of the mean square of the finite entries. */
function rmsOf(values: Float64Array): number {
  let squares = 0
  let n = 0
  for (const value of values)
    if (Number.isFinite(value)) {
      squares += value * value
      n++
    }
  return n > 0 ? Math.sqrt(squares / n) : 0
}

/** Charge between the fullest and the emptiest moment, A·h. */
function swingAh({ ampHours }: ThroughCurrent): number {
  let low = 0
  let high = 0
  for (const value of ampHours) {
    low = Math.min(low, value)
    high = Math.max(high, value)
  }
  return high - low
}

/** Did the current move enough to say anything? Its spread must pass 2 A. */
function moved(through: ThroughCurrent): boolean {
  let sum = 0
  let squares = 0
  let n = 0
  for (let j = 0; j < through.amperes.length; j++)
    if (through.trusted[j]) {
      sum += through.amperes[j]!
      squares += through.amperes[j]! ** 2
      n++
    }
  return n > 100 && Math.sqrt(Math.max(0, squares / n - (sum / n) ** 2)) > 2
}

/** Fine bins where the log is fast, levels over several samples where voltage or current is slow. */
function binWidth(table: CellTable, through: ThroughCurrent): number {
  const slowestS = Math.max(table.periodS, through.periodS)
  const spanS = through.amperes.length * through.stepS
  const levelS = slowestS > 0.6 ? 5 * slowestS : slowestS
  const thrifty = table.periodS * Math.ceil(spanS / MOST_BINS / table.periodS)
  return Math.max(levelS, Math.min(thrifty, Math.max(FINE_S, spanS / (4 * MOST_BINS))))
}

function mix(a: Float64Array, b: Float64Array, share: number): Float64Array {
  return a.map((value, j) => share * value + (1 - share) * b[j]!)
}

/**
 * What all cells do alike beyond the model, by module (six cells or more, else as the whole pack): the mean of their
 * residuals, cells that wander far more than the rest left out. Key 0 is the whole pack's.
 */
function commonResidual(
  fits: readonly (BlockFit | null)[],
  modules: readonly number[],
  bins: number,
): Map<number, Float64Array> {
  const spreads = fits.map((each) => each?.spread ?? Number.NaN)
  const usual = median(spreads)
  const good = fits.map((each, at) => each !== null && spreads[at]! <= 2 * usual + 1e-9)
  const mean = (inside: (at: number) => boolean): { sum: Float64Array; cells: number } => {
    const sum = new Float64Array(bins)
    const count = new Int32Array(bins)
    let cells = 0
    fits.forEach((each, at) => {
      if (!each || !good[at] || !inside(at)) return
      cells++
      for (let bin = 0; bin < bins; bin++) {
        const value = each.residuals[bin]!
        if (!Number.isFinite(value)) continue
        sum[bin]! += value
        count[bin]!++
      }
    })
    for (let bin = 0; bin < bins; bin++) sum[bin] = count[bin]! > 0 ? sum[bin]! / count[bin]! : 0
    return { sum, cells }
  }
  const whole = mean(() => true).sum
  const out = new Map<number, Float64Array>([[0, whole]])
  for (const module of new Set(modules)) {
    const own = mean((at) => modules[at] === module)
    out.set(module, own.cells >= 6 ? own.sum : whole)
  }
  return out
}
