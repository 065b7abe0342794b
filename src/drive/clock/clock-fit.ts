import { leastSquares } from '../../math/least-squares.ts'
import { robustLeastSquares } from '../../math/robust-least-squares.ts'
import { studentT } from '../../math/student-t.ts'
import { type Mapping, viewsOf, type WindowLag, windowLags } from './clock-lags.ts'
import type { ClockPair } from './clock-pairs.ts'
import type { RoughLag } from './clock-search.ts'

/** Over less, no drift can be told from an offset; no source. */
const DRIFT_FROM_S = 60

/** Two clocks compared: first log's own time = second's · (1 + rate) + lagS. */
export interface ClockFit extends Mapping {
  /** 95 % half width over the stretch that both hold, s. */
  readonly plusMinusS: number
  /** 95 % half width of the rate; null where too few windows show one. */
  readonly ratePlusMinus: number | null
  readonly from: readonly string[]
}

/** Crystal clocks of loggers: a few tens of ppm, some hundreds when hot or cheap. Common practice, no source. */
const USUAL_RATE = 500e-6
/** One standard deviation of it, and what is assumed where no drift can be seen. */
const CRYSTAL_RATE = 150e-6
const UNSEEN_RATE = 100e-6

/**
 * Rough lag → offset and drift. Windows of every pair, lags regressed robustly on time with one offset a pair (each
 * sensor has its own constant delay) and one drift for all; the pairs' offsets are then averaged, each weighted by its
 * fit error and the delay that its kind of sensor may hide.
 */
export function fitClock(rough: RoughLag): ClockFit | null {
  const { pairs } = rough
  const lasts = pairs.map((pair) => pair.second.timeS[pair.second.timeS.length - 1]!)
  const firsts = pairs.map((pair) => pair.second.timeS[0]!)
  const lengthS = Math.max(...lasts) - Math.min(...firsts)
  const windowS = Math.max(15, Math.min(120, lengthS / 24))
  const views = pairs.map(viewsOf)
  let mapping: Mapping = { lagS: rough.lagS, rate: 0 }
  let reachS = 1.5 + USUAL_RATE * lengthS
  let solved: Solved | null = null
  for (let round = 0; round < 3; round++) {
    const lags = windowLags(views, mapping, reachS, windowS)
    const next = solve(pairs, lags)
    if (!next) return solved ? finish(pairs, solved, mapping) : null
    solved = next
    mapping = {
      lagS: mapping.lagS + next.offsetS - next.rate * next.middleS,
      rate: mapping.rate + next.rate,
    }
    reachS = Math.min(reachS, Math.max(0.3, 4 * next.scatterS))
  }
  return finish(pairs, solved!, mapping)
}

interface Solved {
  /** Lag at `middleS` of the second log's own time. */
  readonly offsetS: number
  readonly middleS: number
  readonly halfS: number
  readonly rate: number
  readonly rateError: number
  readonly offsetError: number
  readonly degrees: number
  readonly scatterS: number
  readonly used: readonly number[]
}

function solve(pairs: readonly ClockPair[], lags: readonly WindowLag[]): Solved | null {
  const used = pairs.map((_, at) => at).filter((at) => lags.some((lag) => lag.pair === at))
  if (used.length === 0) return null
  const times = lags.map((lag) => lag.atS)
  const low = Math.min(...times)
  const high = Math.max(...times)
  const middleS = (low + high) / 2
  // rows are divided by their error, so that the robust weights see one spread
  const errors = lags.map((lag) => {
    const { first, second } = pairs[lag.pair]!
    return Math.hypot(lag.errorS, 5e-4, first.edgeS, second.edgeS)
  })
  const columns = used.map((at) => lags.map((lag, i) => (lag.pair === at ? 1 / errors[i]! : 0)))
  const y = lags.map((lag, i) => lag.lagS / errors[i]!)
  const moving = lags.length >= used.length + 4 && high - low > DRIFT_FROM_S
  if (moving) columns.push(lags.map((lag, i) => (lag.atS - middleS) / errors[i]!))
  const fit =
    (lags.length > columns.length + 2 ? robustLeastSquares(columns, y) : null) ?? leastSquares(columns, y)
  if (!fit) return null
  // fewer degrees than the fit's own spread could hide: never trust it below what each window's noise says
  const inflate = Number.isFinite(fit.residualSpread)
    ? 1 / Math.min(1, Math.max(fit.residualSpread, 1e-9))
    : 1
  const covariance = fit.unscaledCovariance
  const spread = Number.isFinite(fit.residualSpread) ? fit.residualSpread * Math.min(inflate, 1e9) : 1
  const scale = Math.max(1, fit.residualSpread || 1) / (spread || 1)
  const errorOf = (j: number): number => spread * scale * Math.sqrt(covariance[j * columns.length + j]!)
  let weight = 0
  let offsetS = 0
  used.forEach((at, j) => {
    const w = 1 / (errorOf(j) ** 2 + delayOf(pairs[at]!) ** 2)
    weight += w
    offsetS += w * fit.coefficients[j]!
  })
  const rate = moving ? fit.coefficients[used.length]! : 0
  return {
    offsetS: offsetS / weight,
    middleS,
    halfS: (high - low) / 2,
    rate,
    rateError: moving ? errorOf(used.length) : Number.NaN,
    offsetError: 1 / Math.sqrt(weight),
    degrees: Math.max(1, fit.degreesOfFreedom),
    scatterS: Math.max(1, fit.residualSpread || 1) * Math.max(...errors),
    used,
  }
}

/** What a pair's sensors may hide, one standard deviation: their own delays, and rows late by up to one poll. */
function delayOf(pair: ClockPair): number {
  return Math.hypot(pair.delayS, pair.first.lateS, pair.second.lateS)
}

/**
 * Where few edges tell the drift, what crystals usually do tells more: the rate is weighed against 0 ± 150 ppm, about
 * the middle of the stretch, so that the offset there stays.
 */
function finish(pairs: readonly ClockPair[], solved: Solved, mapping: Mapping): ClockFit {
  const from = solved.used.map((at) => pairs[at]!.name)
  const t = studentT(0.975, solved.degrees)
  const offset = 1.96 * solved.offsetError
  if (Number.isNaN(solved.rateError))
    return {
      ...mapping,
      plusMinusS: Math.hypot(offset, UNSEEN_RATE * solved.halfS),
      ratePlusMinus: null,
      from,
    }
  const share = CRYSTAL_RATE ** 2 / (CRYSTAL_RATE ** 2 + solved.rateError ** 2)
  const rate = mapping.rate * share
  const ratePlusMinus = t * solved.rateError * Math.sqrt(share)
  return {
    rate,
    lagS: mapping.lagS + (mapping.rate - rate) * solved.middleS,
    plusMinusS: Math.hypot(offset, ratePlusMinus * solved.halfS),
    ratePlusMinus,
    from,
  }
}
