import type { ChargeSession } from '../../../shared/review.ts'
import { cellLimits } from '../../car/cell-limits.ts'
import { type Facts, family } from '../../facts/facts.ts'
import { median } from '../../math/stats.ts'
import { medianWhere, type SessionSeries } from './session-series.ts'
import { FLOWS_A } from './session-spans.ts'

/** The last stretch of current that is read, s. */
const LAST_S = 120
/** A highest cell this near its limit ends the charge, V. Common practice, no source. */
const AT_LIMIT_V = 0.03
/** Less rise of the middle cell over the last stretch shows no slope, V. */
const LEAST_RISE_V = 0.008
/** Cells are compared within so much by reading and step, V. Common practice, no source. */
const READING_V = 0.0015
/** Between the steady current and the end the curve may bend by so much of its slope. Common practice, no source. */
const BENDS = 0.3
/** Share of the session, at least so many seconds, over which the middle cell's slope is read. */
const SLOPE_SHARE = 0.15

/**
 * Where the cells stood as the current last flowed: how far apart, which is highest, and what that costs.
 *
 *     cost = (highest − middle cell) / (rise of the middle cell per Ah at this current)
 *
 * Only said as a cost where the highest cell stood at its limit. The slope is read where the current last stood steady.
 * Biased by: the highest cell's own resistance, which reads as charge; a curve that bends between there and the end.
 */
export function sessionEnd(facts: Facts, series: SessionSeries, ah: number | null): ChargeSession['end'] {
  const cells = family(facts, 'cell_voltage')
  const { timeS, delivered } = series
  let last = delivered.length - 1
  while (last >= 0 && !(delivered[last]! >= FLOWS_A)) last--
  if (cells.length < 3 || last < 1) return null
  const toS = timeS[last]!
  const fromS = Math.max(series.span[0], toS - LAST_S)
  const levels = cells.map(({ channel }) => medianOfSpan(channel, fromS, toS))
  if (levels.some((volt) => !Number.isFinite(volt))) return null
  const middle = median(levels)
  const top = Math.max(...levels)
  const highest = cells[levels.indexOf(top)]!
  const lowest = cells[levels.indexOf(Math.min(...levels))]!
  const ends = top >= cellLimits(facts).maxV - AT_LIMIT_V
  const above = top - middle
  const slope = ends && ah !== null ? middleSlope(series, cells, last) : null
  const cost = slope === null ? null : above / slope.voltPerAh
  return {
    spread_mv: 1000 * (top - Math.min(...levels)),
    highest_cell: highest.number,
    lowest_cell: lowest.number,
    above_median_mv: 1000 * above,
    ends_by_cell: ends,
    cost_ah: cost,
    cost_ah_plus_minus:
      cost === null || slope === null
        ? null
        : Math.hypot((2 * READING_V) / slope.voltPerAh, (cost * slope.plusMinus) / slope.voltPerAh),
  }
}

function medianOfSpan(channel: { timeS: Float64Array; values: Float64Array }, fromS: number, toS: number) {
  return medianWhere(channel.values, (i) => channel.timeS[i]! >= fromS && channel.timeS[i]! <= toS)
}

/** V per Ah of the middle cell at a steady current before `last`; null where it rose too little or the current moved. */
function middleSlope(
  { timeS, packA, delivered, stepS, span }: SessionSeries,
  cells: readonly { channel: { timeS: Float64Array; values: Float64Array } }[],
  end: number,
): { voltPerAh: number; plusMinus: number } | null {
  let last = end
  const amps = Number.isFinite(packA[last]!) ? packA : delivered
  const length = Math.max(300, SLOPE_SHARE * (span[1] - span[0]))
  // a taper at the end leaves no steady current: the steady stretch before it tells the slope
  const most = median(amps.filter((a) => a >= FLOWS_A))
  while (last > 0 && !(amps[last]! > 0.95 * most)) last--
  const from = Math.max(0, last - Math.round(length / stepS))
  const level = median(amps.subarray(from, last + 1))
  for (let i = from; i <= last; i++) if (Math.abs(amps[i]! - level) > 0.1 * level) return null
  const middles = [from, last].map((at) =>
    median(cells.map(({ channel }) => medianOfSpan(channel, timeS[at]! - 60, timeS[at]! + 60))),
  )
  const rise = middles[1]! - middles[0]!
  const ah = (level * (timeS[last]! - timeS[from]!)) / 3600
  if (!(rise > LEAST_RISE_V) || !(ah > 0)) return null
  return { voltPerAh: rise / ah, plusMinus: Math.hypot((2 * READING_V) / ah, BENDS * (rise / ah)) }
}
