import { leastSquares } from '../../math/least-squares.ts'
import { mean } from '../../math/stats.ts'
import { invertSymmetric, times } from '../../math/symmetric.ts'
import { DRIVE_LAGS_S, lagged } from './coolant-flow.ts'
import type { CoolantSeries } from './coolant-series.ts'

/** Over less, a change of flow cannot be told from warming up; no source. */
const SHORTEST_S = 400
/** Moments of the drive that are tried as the change's. */
const PLACES = 15
/** Beyond, a change would have to be larger than any flow; no source. */
const MOST_SHARE = 0.7
/** 95 % of chi square with one degree of freedom; any table of it. */
const CHI_SQUARE = 3.84
/** Flow that is less stands still; no source. */
const LEAST_FACTOR = 0.02
/** And the other way round. */
const MOST_FACTOR = 50

/** A moment at which the coolant began to answer the same heat differently. */
export interface CoolantChange {
  readonly atS: number
  /** Mean warming after it, K, by the fit, and its 95 % interval. */
  readonly seenC: number
  readonly seenLowC: number
  readonly seenHighC: number
  /** What the drive until then lets expect after it, K. */
  readonly expectedC: number
  /** `less-flow`: it warms far more; `stands-still`: it no longer warms. */
  readonly turn: 'less-flow' | 'stands-still'
}

export interface CoolantConstancy {
  readonly change: CoolantChange | null
  /** K in the second half of the drive that would have been told 9 times in 10; null where nothing was to be told. */
  readonly smallestC: number | null
}

/** A pump that is slowed or quickened on purpose stays within these. Common practice, no source. */
const LESS_FLOW = 2
const STANDS_STILL = 0.25
/** So much better must two parts be than one: 2·ln of the likelihoods' ratio, over all moments tried. */
const BETTER = 25
/** Warming that no error of the sensors makes, K. */
const LEAST_C = 0.7
/** No fit of rows of sensors leaves less, K. Common practice, no source. */
const LEAST_SPREAD_C = 0.02
/** The search needs no finer rows than this many. */
const ROWS = 160
/** Factors that are tried for the answer after the moment. */
const FACTORS = Float64Array.from({ length: 22 }, (_, i) => (i === 0 ? 0 : 0.1 * 1.35 ** (i - 1)))

/**
 * Did the coolant's answer to the heat change part way?
 *
 * Model:  warmed(t) = o + f(t) · [ a · (T̄ − Tin)(t) + b · |P|(t, lagged) ], f = 1 before a moment and one other factor
 *         after it; moment (between a fifth and four fifths of the drive), lag and factor are searched for, a, b and o
 *         fitted at each. The factor's interval is where the residuals are worse by no more than χ² at 95 % allows,
 *         counted in independent rows.
 * A change counts where it fits far better than f = 1 and the whole interval lies above 2 (less flow) or under a
 * quarter (coolant that stands still beside its sensors). Flow that rises within reason (a thermostat) accuses nobody.
 * Blind: to a flow that was wrong from the start (see `coolantFlow`); to a change by less than a half.
 */
export function coolantConstancy(series: CoolantSeries): CoolantConstancy {
  const whole = { change: null, smallestC: null }
  if (series.timeS.length * series.stepS < SHORTEST_S) return whole
  const { rows, stride, warmedC, bases, fitAt } = thinned(series)
  const better = (a: Fitted | null, b: Fitted | null): Fitted | null =>
    !a || (b && b.squares < a.squares) ? b : a
  const steady = bases.map((base) => fitAt(base, rows, 1)).reduce(better, null)
  if (!steady) return whole
  let found: { base: readonly Float64Array[]; at: number; factor: number; squares: number } | null = null
  for (let k = 0; k <= PLACES; k++) {
    const at = Math.round(rows * (0.2 + 0.04 * k))
    for (const base of bases) {
      const sums = productsAbout(base, warmedC, at)
      for (const factor of FACTORS) {
        const squares = squaresLeft(sums, factor) ?? fitAt(base, at, factor)?.squares
        if (squares !== undefined && (!found || squares < found.squares))
          found = { base, at, factor, squares }
      }
    }
  }
  const best = found && fitAt(found.base, found.at, found.factor)
  if (!best) return whole
  const independent = independentRows(best.residual(), stride * series.stepS)
  const half = rows >> 1
  const even = fitAt(steady.base, half, 1)!
  const [, widest] = interval(even, independent, (factor) => fitAt(even.base, half, factor))
  // told 9 times in 10 where the factor lies 1.28 of its errors beyond the interval that clears the limit
  const share = Math.log(Math.max(widest, 1.01)) / 1.96
  const smallest = LESS_FLOW * Math.exp(share * (1.96 + 1.28)) * even.expectedC()
  const smallestC = even.expectedC() > 0 && share < MOST_SHARE ? Math.max(LEAST_C, smallest) : null
  if (!(best.expectedC() > 0) || !(independent * Math.log(steady.squares / best.squares) > BETTER))
    return { change: null, smallestC }
  const { base, at } = best
  const expectedC = best.expectedC()
  const [low, high] = interval(best, independent, (factor) => fitAt(base, at, factor))
  const less = low > LESS_FLOW && best.factor * expectedC > LEAST_C
  const still = high < STANDS_STILL && expectedC > LEAST_C / 2
  if (!less && !still) return { change: null, smallestC }
  return {
    smallestC,
    change: {
      atS: series.timeS[at * stride]!,
      seenC: best.factor * expectedC,
      seenLowC: low * expectedC,
      seenHighC: high * expectedC,
      expectedC,
      turn: less ? 'less-flow' : 'stands-still',
    },
  }
}

/** Sums of products of a base's columns, of ones and of what is fitted, before and after a moment. */
interface Products {
  readonly rows: number
  /** Columns with each other and with ones, (columns + 1)² row-major; and each with what is fitted. */
  readonly before: Float64Array
  readonly after: Float64Array
  readonly rightBefore: Float64Array
  readonly rightAfter: Float64Array
  readonly square: number
}

function productsAbout(base: readonly Float64Array[], y: Float64Array, at: number): Products {
  const k = base.length + 1
  const columns = [...base, new Float64Array(y.length).fill(1)]
  const dot = (a: Float64Array, b: Float64Array, from: number, to: number): number => {
    let sum = 0
    for (let i = from; i < to; i++) sum += a[i]! * b[i]!
    return sum
  }
  const grams = (from: number, to: number): Float64Array =>
    Float64Array.from({ length: k * k }, (_, j) =>
      dot(columns[Math.floor(j / k)]!, columns[j % k]!, from, to),
    )
  const rights = (from: number, to: number): Float64Array =>
    Float64Array.from(columns, (column) => dot(column, y, from, to))
  const n = y.length
  return {
    rows: n,
    before: grams(0, at),
    after: grams(at, n),
    rightBefore: rights(0, at),
    rightAfter: rights(at, n),
    square: dot(y, y, 0, n),
  }
}

/** Squares that a factor after the moment leaves, from the sums alone; null where the columns are nearly dependent. */
function squaresLeft(sums: Products, factor: number): number | null {
  const k = sums.rightBefore.length
  const scale = Float64Array.from({ length: k }, (_, a) => (a === k - 1 ? 1 : factor))
  const gram = sums.before.map(
    (value, j) => value + scale[Math.floor(j / k)]! * scale[j % k]! * sums.after[j]!,
  )
  const right = sums.rightBefore.map((value, a) => value + scale[a]! * sums.rightAfter[a]!)
  const inverse = invertSymmetric(gram, k)
  if (!inverse) return null
  const coefficients = times(inverse, right, k)
  const explained = coefficients.reduce((sum, value, a) => sum + value * right[a]!, 0)
  return Math.max(sums.square - explained, sums.rows * LEAST_SPREAD_C ** 2)
}

/** The series in fewer rows, what its warming may follow (a set for each lag), and the fit with a change at a row. */
function thinned(series: CoolantSeries): {
  readonly rows: number
  readonly stride: number
  readonly warmedC: Float64Array
  readonly bases: readonly (readonly Float64Array[])[]
  readonly fitAt: (base: readonly Float64Array[], at: number, factor: number) => Fitted | null
} {
  const stride = Math.max(1, Math.floor(series.timeS.length / ROWS))
  const rows = Math.floor(series.timeS.length / stride)
  const thin = (values: Float64Array): Float64Array =>
    Float64Array.from({ length: rows }, (_, i) => mean(values.subarray(i * stride, (i + 1) * stride)))
  const warmedC = thin(series.warmedC)
  const aboveC = series.aboveC && thin(series.aboveC)
  const bases = DRIVE_LAGS_S.map((lagS) => {
    const drive = thin(lagged(series.powerW, series.timeS, lagS))
    return aboveC ? [aboveC, drive] : [drive]
  })
  return { rows, stride, warmedC, bases, fitAt: (base, at, factor) => changedAt(warmedC, base, at, factor) }
}

/** The fit of the warming where all that it follows counts `factor` times as much from row `at` on. */
function changedAt(
  warmedC: Float64Array,
  base: readonly Float64Array[],
  at: number,
  factor: number,
): Fitted | null {
  const rows = warmedC.length
  const columns = base.map((column) => {
    const scaled = column.slice()
    for (let i = at; i < rows; i++) scaled[i] = factor * scaled[i]!
    return scaled
  })
  const fit = leastSquares([...columns, new Float64Array(rows).fill(1)], warmedC)
  if (!fit) return null
  return {
    base,
    at,
    factor,
    squares: Math.max(fit.sumOfSquares, rows * LEAST_SPREAD_C ** 2),
    // of the few dozen fits two are asked for these
    expectedC: () =>
      base.reduce((sum, column, k) => sum + fit.coefficients[k]! * mean(column.subarray(at)), 0),
    residual: () =>
      warmedC.map(
        (value, i) =>
          value -
          fit.coefficients[base.length]! -
          columns.reduce((sum, column, k) => sum + fit.coefficients[k]! * column[i]!, 0),
      ),
  }
}

interface Fitted {
  readonly base: readonly Float64Array[]
  readonly at: number
  readonly factor: number
  readonly squares: number
  /** Mean answer after the moment with the factor left out, K. */
  readonly expectedC: () => number
  readonly residual: () => Float64Array
}

/** Factors about the best that the residuals bear with at 95 % (χ² of one: 3.84), by steps of a twentieth. */
function interval(
  best: Fitted,
  independent: number,
  refit: (factor: number) => Fitted | null,
): [number, number] {
  const bears = (factor: number): boolean => {
    const tried = refit(factor)
    return tried !== null && independent * Math.log(tried.squares / best.squares) < CHI_SQUARE
  }
  let low = best.factor
  while (low > LEAST_FACTOR && bears(low / 1.05)) low /= 1.05
  let high = Math.max(best.factor, LEAST_FACTOR)
  while (high < MOST_FACTOR && bears(high * 1.05)) high *= 1.05
  return [low > LEAST_FACTOR ? low : 0, high]
}

/** How many independent rows the residuals are worth, by their correlation over ten seconds and more. */
function independentRows(residuals: Float64Array, stepS: number): number {
  const apart = Math.max(1, Math.round(10 / stepS))
  let together = 0
  let squares = 0
  for (let i = 0; i < residuals.length; i++) {
    squares += residuals[i]! ** 2
    if (i >= apart) together += residuals[i]! * residuals[i - apart]!
  }
  const correlation = Math.min(0.97, Math.max(0, squares > 0 ? together / squares : 0))
  return Math.max(4, (residuals.length / apart) * ((1 - correlation) / (1 + correlation)))
}
