import { motorTorque, requestedTorque } from '../../car/regen-torque.ts'
import { absence, type Facts } from '../../facts/facts.ts'
import { correlation } from '../../math/correlation.ts'
import { type HeldPeak, heldPeak, runsAbove } from '../../math/held-runs.ts'
import { slidingSlope } from '../../math/sliding-line.ts'
import { quantile } from '../../math/stats.ts'
import { linearAt, samplePeriod } from '../../samples/on-one-clock.ts'
import { pedalLag } from './pedal-lag.ts'

/** How far the motor's torque went beyond what was asked of it; arrays on the torque's own clock. */
export interface UnrequestedTorque {
  readonly timeS: Float64Array
  readonly nm: Float64Array
  readonly requestNm: Float64Array
  /** N·m beyond the request, lag and slew taken out; 0 where within the allowance. */
  readonly beyondNm: Float64Array
  readonly held: HeldPeak | null
  /** First and last sample of the stretch that holds `held`. */
  readonly run: readonly [number, number] | null
  /** Lag that was allowed, s. */
  readonly lagS: number
  /** Is braking torque part of what the log calls the request? */
  readonly brakingAsked: boolean
  readonly errorPercent: number
}

/** The contract's figures: beyond by over 10 N·m and 20 % for over 0.3 s. */
export const BEYOND_NM = 10
export const BEYOND_SHARE = 0.2
export const BEYOND_S = 0.3
/** On top of the lag found, s: frames come one after another. Common practice, no source. */
const LAG_ROOM_S = 0.15
const LAG_MOST_S = 1
/** Torque on its way to the request within this time, or at half of the inverter's own pace, is its slew, s. */
const ON_ITS_WAY_S = 1
const PACE_SHARE = 0.5
const RATE_HALF_S = 0.1
const SLOWEST_S = 0.35
/** Between these the request is what the inverter follows; else it is another quantity or unit. */
const SCALE: readonly [number, number] = [0.6, 1.6]
const FOLLOWS = 0.7
/**
 * Torque that acts against its request for some seconds of a short drive spoils the correlation, not the rest of the
 * time: the two agree where they differ by less than `BEYOND_NM` or this share. Common practice, no source.
 */
const AGREES = 0.6
const SAME_SHARE = 0.3
const LEAST_BUSY = 100

/**
 * Model: torque must lie between the least and the most that was asked within the last `lag` seconds. What lies beyond
 * (more drive than the most, more braking than the least, or over 10 N·m of the other sign) counts unless it is on its
 * way back: an inverter slews. Less torque than asked (limits of battery and motor) is never beyond.
 * Gives a sentence where it cannot be told.
 */
export function unrequestedTorque(facts: Facts): UnrequestedTorque | { readonly why: string } {
  const torque = facts.once(motorTorque)
  const request = facts.once(requestedTorque)
  if (!request) return { why: `the torque request is ${absence(facts, ['torque_request'])}` }
  if (torque?.from !== 'torque') return { why: `the motor\u2019s torque is ${absence(facts, ['torque'])}` }
  if (torque.sign === 'unsigned' || request.sign === 'unsigned')
    return { why: 'torque is logged without sign, so drive and regeneration look alike' }
  const { timeS, nm } = torque
  const slowest = Math.max(samplePeriod(timeS), samplePeriod(request.timeS))
  if (!(slowest <= SLOWEST_S))
    return { why: `torque and request come every ${slowest.toFixed(1)} s, too slow to part lag from excess` }
  const found = facts.once(pedalLag)
  const lagS = Math.min(
    LAG_MOST_S,
    (found?.against === 'torque_request' ? found.lagS + found.plusMinusS : 0.1) + LAG_ROOM_S + slowest,
  )
  const requestNm = linearAt({ timeS: request.timeS, values: request.nm }, timeS, 1)
  const late = linearAt(
    { timeS: request.timeS, values: request.nm },
    timeS.map((at) => at - lagS / 2),
    1,
  )
  const { r, slope } = correlation(late, nm)
  const opposite = r < -FOLLOWS && slope < 0
  const follows = r > FOLLOWS && slope > SCALE[0] && slope < SCALE[1]
  const agreeing = agreeingShare(late, nm)
  if (!opposite && !follows && !(agreeing > AGREES))
    return {
      why: `what is logged as torque request is not what the torque follows (correlation ${said(r)}, scale ${said(slope)}, the same for ${Number.isFinite(agreeing) ? `${(100 * agreeing).toFixed(0)} % of the time` : 'unknown'})`,
    }
  const brakingAsked = quantile(request.nm, 0.01) < -BEYOND_NM / 2 || quantile(nm, 0.01) > -BEYOND_NM / 2
  const beyondNm = beyond(timeS, nm, request.timeS, request.nm, lagS, brakingAsked)
  const held = heldPeak(timeS, beyondNm, BEYOND_S)
  const run =
    held && held.value > 0
      ? runsAbove(timeS, beyondNm, 0).find((each) => each.first <= held.first && each.last >= held.last)
      : undefined
  return {
    timeS,
    nm,
    requestNm,
    beyondNm,
    held,
    run: run ? [run.first, run.last] : null,
    lagS,
    brakingAsked,
    errorPercent: torque.errorPercent,
  }
}

/** Share of the time with torque asked for or given in which one is the other; NaN with too little of it. */
function agreeingShare(asked: Float64Array, nm: Float64Array): number {
  let busy = 0
  let same = 0
  for (let i = 0; i < nm.length; i++) {
    const most = Math.max(Math.abs(asked[i]!), Math.abs(nm[i]!))
    if (!(most > BEYOND_NM)) continue
    busy++
    if (Math.abs(nm[i]! - asked[i]!) < Math.max(BEYOND_NM, SAME_SHARE * most)) same++
  }
  return busy < LEAST_BUSY ? Number.NaN : same / busy
}

const said = (value: number): string => (Number.isFinite(value) ? value.toFixed(2) : 'unknown')

function beyond(
  timeS: Float64Array,
  nm: Float64Array,
  askedS: Float64Array,
  asked: Float64Array,
  lagS: number,
  brakingAsked: boolean,
): Float64Array {
  const rate = slidingSlope(timeS, nm, Math.max(RATE_HALF_S, 1.6 * samplePeriod(timeS)))
  const pace = PACE_SHARE * quantile(rate.map(Math.abs), 0.99)
  const out = new Float64Array(timeS.length)
  const highs: number[] = []
  const lows: number[] = []
  let next = 0
  let highAt = 0
  let lowAt = 0
  for (let i = 0; i < timeS.length; i++) {
    // the window ends with the sample after this moment: the two may have been read in either order
    while (next < asked.length && (next === 0 || askedS[next - 1]! < timeS[i]!)) {
      while (highs.length > highAt && asked[highs[highs.length - 1]!]! <= asked[next]!) highs.pop()
      while (lows.length > lowAt && asked[lows[lows.length - 1]!]! >= asked[next]!) lows.pop()
      highs.push(next)
      lows.push(next)
      next++
    }
    const from = timeS[i]! - lagS
    while (highAt + 1 < highs.length && askedS[highs[highAt]!]! < from) highAt++
    while (lowAt + 1 < lows.length && askedS[lows[lowAt]!]! < from) lowAt++
    if (highs.length === highAt || Math.abs(askedS[next - 1]! - timeS[i]!) > 1 || Number.isNaN(nm[i]!)) {
      out[i] = Number.NaN
      continue
    }
    const most = asked[highs[highAt]!]!
    const least = asked[lows[lowAt]!]!
    const over = nm[i]! > 0 ? excess(nm[i]!, most) : brakingAsked ? excess(-nm[i]!, -least) : 0
    const towards = nm[i]! > 0 ? -rate[i]! : rate[i]!
    out[i] = over > 0 && !(towards > Math.min(over / ON_ITS_WAY_S, pace) && towards > 0) ? over : 0
  }
  return out
}

/** N·m beyond the request, both counted in the torque's own direction; 0 within the allowance. */
function excess(nm: number, asked: number): number {
  if (asked < 0) return nm > BEYOND_NM ? nm : 0
  const over = nm - asked
  return over > BEYOND_NM && over > BEYOND_SHARE * asked ? over : 0
}
