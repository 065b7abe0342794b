import type { Span } from '../../../shared/units.ts'
import { moduleOfCell } from '../../../shared/vehicle.ts'
import { packCurrent } from '../../car/pack-current.ts'
import type { Facts } from '../../facts/facts.ts'
import { biweightSpread } from '../../math/biweight.ts'
import { blockRegression, sharedColumns } from '../../math/many-regressions.ts'
import { median, quantile } from '../../math/stats.ts'
import { cellFit } from './cell-fit.ts'
import { stillSpans } from './cell-rest.ts'
import { type CellTable, cellTable } from './cell-series.ts'

/** Fewer cells give no level to fall beside; no source. */
export const FEWEST_CELLS = 6
/** A module of fewer cells has no level of its own; no source. */
const FEWEST_OF_MODULE = 4

/** How one cell's voltage goes on falling or rising beside its peers, without load. */
export interface CellDrain {
  readonly cell: number
  /** Falling is positive, mV a day. */
  readonly mvDay: number
  /** Standard error of the cause, mV a day. */
  readonly error: number
  /** The last half of the rest shows it as well: what is left of driving dies away. */
  readonly lasts: boolean
  /** Stands above the others: one that a balancer may bleed. */
  readonly above: boolean
}

export interface DrainRest {
  readonly span_s: Span
  /** Median voltage of the cells, V. */
  readonly medianV: number
  readonly cells: readonly CellDrain[]
  /** Standard error of a usual cell, mV a day. */
  readonly usualError: number
}

/** A rest of fewer seconds shows nothing but what is left of the load. */
const SHORTEST_S = 300
/** The first minute of a rest is left out. */
const LEAVE_S = 60
const STILL_A = 1.5
const MV_DAY = 1e3 * 86400
const BINS = 240
const BLOCKS = 12
/** Bins hold this much time at least, s. */
const NARROWEST_S = 5
/** The pack's own relaxing is a column of the fit where it moves so far, V; less is noise. */
const RELAXES_V = 0.001
/** A cell may relax so much more than its peers, in another shape, by nature: a share of what all still do. No source. */
const OTHER_SHAPE = 0.15
/** Cells' capacities may differ so far: a current that flows on parts them, as a share. No source. */
const OTHER_CAPACITY = 0.15
/** Of a fall, the share that the last half alone must show. */
const LASTS = 0.6

/**
 * Does a cell go on losing voltage beside its peers while nothing flows?
 *
 * Model:  v(t) − median of all cells = a − s·t + b·(the median cell's own way back after load); s in the longest rest.
 *         What a module's cells do alike (it cools faster than the others) is taken out where it holds four cells.
 * Reads:  cell_voltage.* [V], pack_current [A, discharge positive], balancing where logged (a bled cell is not judged).
 * Gives:  s of each cell, mV a day, with the error of the cause: the fit's blocks, the peers' own differences, what the
 *         measuring step hides, half of what the pack itself still moves, and what a small current does to cells of
 *         other capacity.
 * Blind:  a fall that all cells share; charge on the flat part of an iron phosphate curve.
 */
export function cellDrain(facts: Facts): DrainRest | null {
  const span = longestRest(facts)
  const table = facts.once(cellTable)
  if (!span || table.cells.length < FEWEST_CELLS) return null
  const bins = Math.min(BINS, Math.floor((span[1] - span[0]) / NARROWEST_S))
  const cells = table.cells.flatMap(({ cell, rows, volts, bled, stepV }) => {
    const { timeS, fresh } = table.rows[rows]!
    const found = binned(span, bins, timeS, volts, fresh, bled)
    return found ? [{ cell, volts: found, stepV }] : []
  })
  if (cells.length < FEWEST_CELLS) return null
  const common = Float64Array.from({ length: bins }, (_, bin) =>
    median(cells.map((each) => each.volts[bin]!)),
  )
  const back = relaxing(common)
  const passed = Float64Array.from({ length: bins }, (_, bin) => bin / bins - 0.5)
  const ones = new Float64Array(bins).fill(1)
  const blockOf = Int32Array.from({ length: bins }, (_, bin) => Math.floor((bin * BLOCKS) / bins))
  const columns = sharedColumns(back ? [passed, ones, back] : [passed, ones])
  const last = sharedColumns([passed, ones])
  const perDay = MV_DAY / (span[1] - span[0])
  const fits = cells.flatMap(({ cell, volts, stepV }) => {
    const beside = volts.map((value, bin) => value - common[bin]!)
    const fit = blockRegression(columns, beside, blockOf, BLOCKS)
    const half = blockRegression(
      last,
      beside.map((value, bin) => (2 * bin >= bins ? value : Number.NaN)),
      blockOf,
      BLOCKS,
    )
    if (!fit) return []
    // a reading that hardly moves hides up to a step at either end
    const noise = biweightSpread(beside.map((value, bin) => (bin > 0 ? value - beside[bin - 1]! : 0)))
    const hidden = (stepV / Math.sqrt(12)) * Math.exp((-2 * Math.PI ** 2 * noise ** 2) / (stepV ** 2 || 1))
    return [
      {
        cell,
        fall: -fit.coefficients[0]! * perDay,
        last: half ? -half.coefficients[0]! * perDay : 0,
        fitError: Math.hypot(Math.sqrt(fit.covariance[0]!), 3 * hidden) * perDay,
        offset: median(beside),
      },
    ]
  })
  if (fits.length < FEWEST_CELLS) return null
  const level = moduleLevels(facts, fits)
  const own = fits.map((each) => each.fall - level(each.cell))
  const spread = biweightSpread(own)
  const stillMoves = Math.abs(tail(common, bins)) * perDay
  const flows = flowing(facts, span)
  const beyond = Math.hypot(spread, OTHER_SHAPE * stillMoves, flows)
  const judged = fits.map(({ cell, last: lastHalf, fitError, offset }, i): CellDrain => {
    const mvDay = own[i]!
    return {
      cell,
      mvDay,
      error: Math.hypot(fitError, beyond),
      lasts: lastHalf - level(cell) > LASTS * mvDay,
      above: offset > 0,
    }
  })
  return {
    span_s: span,
    medianV: median(common),
    cells: judged,
    usualError: median(judged.map((each) => each.error)),
  }
}

/** The longest stretch without load, its first minute left out. */
function longestRest(facts: Facts): Span | null {
  const spans = stillSpans(facts, STILL_A)
    .map(([from, to]): Span => [from + LEAVE_S, to])
    .sort((a, b) => b[1] - b[0] - (a[1] - a[0]))
  const longest = spans[0]
  return longest && longest[1] - longest[0] >= SHORTEST_S ? longest : null
}

/** Means over even bins; null for a cell that was bled in the rest, or has no reading in over a third of the bins. */
function binned(
  [from, to]: Span,
  bins: number,
  timeS: Float64Array,
  volts: Float64Array,
  fresh: Uint8Array,
  bled: CellTable['cells'][number]['bled'],
): Float64Array | null {
  const sum = new Float64Array(bins)
  const count = new Float64Array(bins)
  for (let i = 0; i < timeS.length; i++) {
    const bin = Math.floor(((timeS[i]! - from) / (to - from)) * bins)
    if (!(bin >= 0 && bin < bins) || !fresh[i] || !Number.isFinite(volts[i]!)) continue
    if (bled?.[i]) return null
    sum[bin]! += volts[i]!
    count[bin]!++
  }
  let empty = 0
  const means = sum.map((value, bin) => {
    if (count[bin] === 0) empty++
    return value / count[bin]!
  })
  return empty > bins / 3 ? null : means
}

/** The median cell's own way back after load, its straight part taken out; null where it hardly moves. */
function relaxing(common: Float64Array): Float64Array | null {
  const finite = common.filter(Number.isFinite)
  if (!(quantile(finite, 0.98) - quantile(finite, 0.02) > RELAXES_V)) return null
  const middle = median(finite)
  return common.map((value) => value - middle)
}

/** What the median cell moves over a whole rest at the speed of its last half, V. */
function tail(common: Float64Array, bins: number): number {
  const mean = (from: number, to: number): number =>
    median(common.subarray(Math.floor(from * bins), Math.floor(to * bins)).filter(Number.isFinite))
  return (mean(0.8, 1) - mean(0.5, 0.7)) / 0.3
}

/** What a small current that flows on does to a cell of other capacity, mV a day. */
function flowing(facts: Facts, [from, to]: Span): number {
  const current = facts.once(packCurrent)
  const fit = facts.once(cellFit)
  if (!current || !fit) return 0
  const amps = current.amperes.filter(
    (value, i) => Number.isFinite(value) && current.timeS[i]! >= from && current.timeS[i]! < to,
  )
  return OTHER_CAPACITY * Math.abs(median(amps) * fit.typical.fallVPerAh) * 24e3
}

/** What a module's cells do alike, mV a day; of the whole pack where it holds fewer than four, or none is known. */
function moduleLevels(
  { layout }: Facts,
  fits: readonly { readonly cell: number; readonly fall: number }[],
): (cell: number) => number {
  const moduleOf = (cell: number): number => (layout.known ? moduleOfCell(layout, cell) : 0)
  const members = new Map<number, number[]>()
  for (const { cell, fall } of fits) {
    const module = moduleOf(cell)
    members.set(module, [...(members.get(module) ?? []), fall])
  }
  const all = median(fits.map((each) => each.fall))
  return (cell) => {
    const own = members.get(moduleOf(cell)) ?? []
    return own.length >= FEWEST_OF_MODULE ? median(own) : all
  }
}
