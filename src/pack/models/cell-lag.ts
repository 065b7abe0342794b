import { median } from '../../math/stats.ts'
import { invertSymmetric, times } from '../../math/symmetric.ts'
import type { CellTable } from './cell-series.ts'
import { behindLag, gridAt, type ThroughCurrent, trustedAt } from './pack-through-current.ts'

/** Fewer rows tell no lag; no source. */
const FEWEST_ROWS = 50

/**
 * How late each cell's voltage is read after the current, and how slow the voltage measurement is.
 *
 * Model:  v(t) = a − R · i(t − lag) behind a first-order filter − slow parts + charge; the lag that leaves the least
 *         residual, by a parabola through the best three of an even row of lags.
 * Cells of one group read together should agree: lags are smoothed over neighbouring cells (median of five), inside
 * a module where the modules are known.
 * Needs current and voltages several times a second; gives null otherwise.
 */
export interface CellLag {
  /** By place in `table.cells`, s; positive = the voltage is read later than the current. */
  readonly lagS: Float64Array
  readonly filterS: number
  /** Robust spread of single cells' lags about the smoothed ones, s. */
  readonly scatterS: number
}

const MOST_ROWS = 2000
const FILTERS_S = [0, 0.1, 0.2, 0.3, 0.45, 0.65, 0.9]
/** Slower than this between samples, lag and filter cannot be told, s. */
const SLOWEST_S = 1.5
const SLOW_S = [8, 30, 200]

export function cellLag(
  table: CellTable,
  through: ThroughCurrent,
  groupOf: (cell: number) => number,
): CellLag | null {
  if (through.periodS > SLOWEST_S || !(table.periodS <= SLOWEST_S)) return null
  const slow = [...SLOW_S.map((tauS) => behindLag(through, tauS)), through.ampHours]
  const plans = table.rows.map((rows) => plan(rows.timeS, rows.fresh, through, slow))
  if (plans.every((each) => each === null)) return null
  const sample = spread(table.cells.length, 5)
  const coarse = grid(-3, 3, 0.1)
  const wide = tryLags(table, plans, through, through.amperes, sample, coarse)
  const centre = median(wide.map((each) => each.lagS))
  if (!Number.isFinite(centre)) return null
  const near = grid(centre - 0.9, centre + 0.7, 0.1)
  let best = { filterS: 0, squares: Number.POSITIVE_INFINITY }
  const tryFilter = (filterS: number): void => {
    const tried = tryLags(table, plans, through, behindLag(through, filterS), sample, near)
    const squares = tried.reduce((sum, each) => sum + each.squares, 0)
    // none is the simplest: a filter has to earn its place
    if (squares < best.squares * 0.999) best = { filterS, squares }
  }
  for (const filterS of FILTERS_S) tryFilter(filterS)
  if (best.filterS > 0) for (const off of [-0.05, 0.05, -0.025, 0.025]) tryFilter(best.filterS + off)
  const filtered = behindLag(through, best.filterS)
  const around = median(tryLags(table, plans, through, filtered, sample, near).map((each) => each.lagS))
  const all = tryLags(
    table,
    plans,
    through,
    filtered,
    table.cells.map((_, at) => at),
    grid(around - 0.6, around + 0.6, 0.06),
  )
  const own = all.map((each) => each.lagS)
  const smoothed = smooth(
    own,
    table.cells.map(({ cell }) => groupOf(cell)),
  )
  const scatter = median(own.map((lag, at) => Math.abs(lag - smoothed[at]!))) * 1.4826
  return { lagS: smoothed, filterS: best.filterS, scatterS: scatter }
}

interface Plan {
  readonly pick: Int32Array
  /** Slow columns at the picked rows, each minus its mean. */
  readonly columns: Float64Array[]
  readonly inverse: Float64Array
}

/** Picks rows where the current moves most and lays out the columns that do not depend on the lag. */
function plan(
  timeS: Float64Array,
  fresh: Uint8Array,
  through: ThroughCurrent,
  slow: readonly Float64Array[],
): Plan | null {
  const usable: number[] = []
  for (let i = 0; i < timeS.length; i++) if (fresh[i] && trustedAt(through, timeS[i]!)) usable.push(i)
  if (usable.length < FEWEST_ROWS) return null
  const stride = Math.max(1, Math.ceil(usable.length / MOST_ROWS))
  const pick = Int32Array.from(usable.filter((_, at) => at % stride === 0))
  const columns = slow.map((series) =>
    centred(Float64Array.from(pick, (i) => gridAt(through, series, timeS[i]!))),
  )
  const k = columns.length
  const gram = new Float64Array(k * k)
  for (let a = 0; a < k; a++)
    for (let b = 0; b <= a; b++) gram[a * k + b] = gram[b * k + a] = dot(columns[a]!, columns[b]!)
  for (let a = 0; a < k; a++) gram[a * k + a]! *= 1 + 1e-9
  const inverse = invertSymmetric(gram, k)
  return inverse ? { pick, columns, inverse } : null
}

function tryLags(
  table: CellTable,
  plans: readonly (Plan | null)[],
  through: ThroughCurrent,
  series: Float64Array,
  which: readonly number[],
  lagsS: readonly number[],
): { at: number; lagS: number; squares: number }[] {
  const columnOf = new Map<number, { x: Float64Array; xx: number }[]>()
  const out: { at: number; lagS: number; squares: number }[] = []
  for (const at of which) {
    const cell = table.cells[at]!
    const rows = plans[cell.rows]
    if (!rows) {
      out.push({ at, lagS: Number.NaN, squares: 0 })
      continue
    }
    const { timeS } = table.rows[cell.rows]!
    let tried = columnOf.get(cell.rows)
    if (!tried) {
      tried = lagsS.map((lagS) => {
        const x = project(
          rows,
          Float64Array.from(rows.pick, (i) => gridAt(through, series, timeS[i]! - lagS)),
        )
        return { x, xx: dot(x, x) }
      })
      columnOf.set(cell.rows, tried)
    }
    const y = project(rows, readings(cell.volts, rows.pick))
    const yy = dot(y, y)
    const left = tried.map(({ x, xx }) => (xx > 0 ? yy - dot(x, y) ** 2 / xx : yy))
    let best = 0
    for (let j = 1; j < left.length; j++) if (left[j]! < left[best]!) best = j
    let lagS = lagsS[best]!
    let squares = left[best]!
    if (best > 0 && best < left.length - 1) {
      const [a, b, c] = [left[best - 1]!, left[best]!, left[best + 1]!]
      const bend = a - 2 * b + c
      if (bend > 0) {
        const step = (a - c) / 2 / bend
        lagS += step * (lagsS[1]! - lagsS[0]!)
        squares -= ((a - c) * step) / 4
      }
    }
    out.push({ at, lagS, squares })
  }
  return out
}

/** Readings at the picked rows; an unbelievable one takes the last believable one's place. */
function readings(volts: Float64Array, pick: Int32Array): Float64Array {
  const out = new Float64Array(pick.length)
  let last = 0
  for (let i = 0; i < pick.length && !last; i++) if (volts[pick[i]!]! > 0) last = volts[pick[i]!]!
  for (let i = 0; i < pick.length; i++) {
    const value = volts[pick[i]!]!
    if (Number.isFinite(value)) last = value
    out[i] = last
  }
  return out
}

function project(rows: Plan, y: Float64Array): Float64Array {
  centred(y)
  const k = rows.columns.length
  const share = times(
    rows.inverse,
    rows.columns.map((column) => dot(column, y)),
    k,
  )
  for (let a = 0; a < k; a++) {
    const column = rows.columns[a]!
    const factor = share[a]!
    for (let i = 0; i < y.length; i++) y[i]! -= factor * column[i]!
  }
  return y
}

function smooth(lags: readonly number[], group: readonly number[]): Float64Array {
  return Float64Array.from(lags, (_, at) => {
    const near: number[] = []
    for (let j = Math.max(0, at - 2); j <= Math.min(lags.length - 1, at + 2); j++)
      if (group[j] === group[at]) near.push(lags[j]!)
    return median(near)
  })
}

function centred(values: Float64Array): Float64Array {
  let sum = 0
  for (let i = 0; i < values.length; i++) sum += values[i]!
  const mean = sum / values.length
  for (let i = 0; i < values.length; i++) values[i]! -= mean
  return values
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0
  for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!
  return sum
}

function grid(from: number, to: number, step: number): number[] {
  return Array.from({ length: Math.round((to - from) / step) + 1 }, (_, j) => from + j * step)
}

/** `count` places spread evenly over 0 … n − 1. */
function spread(n: number, count: number): number[] {
  if (n <= count) return Array.from({ length: n }, (_, at) => at)
  return Array.from({ length: count }, (_, at) => Math.round((at * (n - 1)) / (count - 1)))
}
