import { smoothOnGrid, withoutTrend } from '../../math/kernel-smooth.ts'
import { lagCorrelation } from '../../math/lag-correlation.ts'
import type { ClockPair } from './clock-pairs.ts'

/** A second lag nearer than this is the same hill; no source. */
const RIVAL_S = 5
/** Dated clocks of two boxes agree to a minute; no source. */
const DATED_S = 60
/** A pair of channels with such evidence of its own agrees; no source. */
const AGREES = 3

const STEP_S = 0.5
const TREND_S = 30
/** Natural logarithm of how many times likelier than chance a lag must be: e^20 leaves room for 10⁵ lags tried. */
const ENOUGH = 20
/** A second lag this much less likely than the best leaves no doubt: e^8. */
const CLEAR = 8

/** A rough lag: first log's own time − second log's, in seconds. */
export interface RoughLag {
  readonly lagS: number
  /** Pairs that agree on it. */
  readonly pairs: readonly ClockPair[]
  readonly clear: boolean
}

/**
 * Over the whole range of lags, tens of minutes and more: all pairs band-limited to a half-second grid, their trend
 * over a minute taken out, correlated by Fourier transform. The lag with the most evidence over all pairs wins.
 * @param expectS where wall clocks put it, or null: decides between lags that the data find equally likely
 * @returns null where no lag stands out from chance
 */
export function roughLag(pairs: readonly ClockPair[], expectS: number | null): RoughLag | null {
  if (pairs.length === 0) return null
  const fromA = Math.min(...pairs.map((pair) => pair.first.timeS[0]!))
  const fromB = Math.min(...pairs.map((pair) => pair.second.timeS[0]!))
  const lengthOf = (side: 'first' | 'second', from: number): number =>
    Math.min(
      400_000,
      Math.floor(
        (Math.max(...pairs.map((pair) => pair[side].timeS[pair[side].timeS.length - 1]!)) - from) / STEP_S,
      ) + 1,
    )
  const countA = lengthOf('first', fromA)
  const countB = lengthOf('second', fromB)
  const least = Math.max(20, Math.min(60, 0.2 * Math.min(countA, countB)))
  const each = pairs.map((pair) => {
    const sigma = Math.max(STEP_S, pair.first.periodS, pair.second.periodS)
    const x = withoutTrend(
      smoothOnGrid(pair.first.timeS, pair.first.values, fromA, STEP_S, countA, sigma),
      TREND_S / STEP_S,
    )
    const y = withoutTrend(
      smoothOnGrid(pair.second.timeS, pair.second.values, fromB, STEP_S, countB, sigma),
      TREND_S / STEP_S,
    )
    return lagCorrelation(x, y, least)
  })
  const { zero } = each[0]!
  const total = new Float64Array(each[0]!.evidence.length)
  for (const { evidence } of each) for (let k = 0; k < total.length; k++) total[k]! += evidence[k]!
  const lagOf = (k: number): number => (k - zero) * STEP_S + fromA - fromB
  let best = highest(total, () => true)
  const away = (from: number) => (k: number) => Math.abs(k - from) * STEP_S > RIVAL_S
  let rival = highest(total, away(best))
  let clear = total[best]! - total[rival]! > CLEAR
  if (!clear && expectS !== null && Math.abs(lagOf(rival) - expectS) < Math.abs(lagOf(best) - expectS)) {
    ;[best, rival] = [rival, best]
  }
  if (!clear && expectS !== null) clear = Math.abs(lagOf(best) - expectS) < DATED_S
  if (total[best]! < ENOUGH) return null
  const agreeing = pairs.filter((_, at) => each[at]!.evidence[best]! > AGREES)
  return { lagS: lagOf(best), pairs: agreeing, clear }
}

function highest(values: Float64Array, allowed: (k: number) => boolean): number {
  let best = 0
  for (let k = 0; k < values.length; k++) if (values[k]! > values[best]! && allowed(k)) best = k
  if (allowed(best)) return best
  for (let k = 0; k < values.length; k++)
    if (allowed(k) && (!allowed(best) || values[k]! > values[best]!)) best = k
  return best
}
