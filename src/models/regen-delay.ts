import type { Facts } from '../analyses/analysis.ts'
import { indexAt } from '../drive/on-one-clock.ts'
import { quantile } from '../math/stats.ts'
import { type BrakeTrace, brakeTrace } from './brake-trace.ts'
import { regenMap } from './regen-map.ts'
import { lagged } from './regen-rows.ts'

export interface RegenDelay {
  /** From the brake signal to the motor's torque: the delay of a ramp (dead time and first-order lag alike), s. */
  readonly delayS: number
  readonly plusMinusS: number
  /** Longest time for which regeneration outlasted the press, s; null where no press ended above the fade. */
  readonly outlastsS: number | null
  readonly outlastsAtS: number | null
}

const LONGEST_S = 2
const LEFT = 0.25

/**
 * Dead time and lag of the map's fit; where the fit was to the torque request, plus the shift or lag at which
 * the request fits the torque best (least absolute difference).
 * Null where the log is slower than 5 Hz or the car has only a brake switch.
 */
export function regenDelay(facts: Facts): RegenDelay | null {
  const trace = facts.once(brakeTrace)
  const fit = facts.once(regenMap)
  if (!trace || !fit || trace.input === 'switch' || trace.periodS > 0.21) return null
  const behind = trace.requestNm ? shiftOf(trace, trace.requestNm) : 0
  return {
    delayS: fit.deadS + fit.lagS + behind,
    plusMinusS: fit.delayPlusMinusS + (trace.requestNm ? trace.periodS / 2 : 0),
    ...outlasting(facts),
  }
}

/** How much later the torque does what was asked, s, over all brake applications: as a shift or as a lag, whichever fits. */
function shiftOf(trace: BrakeTrace, asked: Float64Array): number {
  const shifts = lowest((late) => misfit(trace, asked, late), Math.max(0.005, trace.periodS / 2), 0.6)
  const lags = lowest((lag) => lagMisfit(trace, asked, lag), Math.max(0.01, trace.periodS / 2), LONGEST_S)
  return lags.cost < shifts.cost ? lags.at : shifts.at
}

/** Lowest cost on a grid from 0 on, refined by the parabola through the lowest three; stops once it rises steadily. */
function lowest(cost: (at: number) => number, step: number, longest: number): { at: number; cost: number } {
  const costs: number[] = []
  for (let at = 0; at <= longest; at += step) {
    costs.push(cost(at))
    const least = Math.min(...costs)
    if (costs.length - costs.indexOf(least) > 8 && costs[costs.length - 1]! > 1.3 * least) break
  }
  const best = costs.indexOf(Math.min(...costs))
  const [left, centre, right] = [costs[best - 1], costs[best]!, costs[best + 1]]
  const bend = left !== undefined && right !== undefined ? left - 2 * centre + right : 0
  return { at: Math.max(0, (best + (bend > 0 ? (0.5 * (left! - right!)) / bend : 0)) * step), cost: centre }
}

function lagMisfit(trace: BrakeTrace, asked: Float64Array, lag: number): number {
  const { timeS, torqueNm } = trace
  let sum = 0
  let count = 0
  for (const [from, to] of trace.applications) {
    const first = Math.max(0, indexAt(timeS, from))
    let state = torqueNm[first]!
    for (let i = first + 1; i < timeS.length && timeS[i]! <= to; i++) {
      state = lag < 1e-3 ? asked[i]! : lagged(state, asked[i - 1]!, asked[i]!, timeS[i]! - timeS[i - 1]!, lag)
      if (!Number.isFinite(state)) state = torqueNm[i]!
      const off = Math.abs(state - torqueNm[i]!)
      if (!Number.isFinite(off)) continue
      sum += off
      count++
    }
  }
  return count > 0 ? sum / count : Number.POSITIVE_INFINITY
}

function misfit(trace: BrakeTrace, asked: Float64Array, late: number): number {
  const { timeS, torqueNm, applications } = trace
  let sum = 0
  let count = 0
  let at = 0
  for (const [from, to] of applications) {
    let i = Math.max(0, indexAt(timeS, from))
    for (; i < timeS.length && timeS[i]! <= to; i++) {
      const moment = timeS[i]! - late
      while (at + 1 < i && timeS[at + 1]! <= moment) at++
      const next = Math.min(at + 1, i)
      const gap = timeS[next]! - timeS[at]!
      const share = gap > 0 ? Math.min(1, Math.max(0, (moment - timeS[at]!) / gap)) : 0
      const then = late === 0 ? asked[i]! : asked[at]! + share * (asked[next]! - asked[at]!)
      const off = Math.abs(then - torqueNm[i]!)
      if (!Number.isFinite(off)) continue
      sum += off
      count++
    }
  }
  return count > 0 ? sum / count : Number.POSITIVE_INFINITY
}

/** After a press ends above the fade: how long until the torque has come down to a quarter. */
function outlasting(facts: Facts): { outlastsS: number | null; outlastsAtS: number | null } {
  const trace = facts.once(brakeTrace)!
  const fit = facts.once(regenMap)!
  const { timeS, press, kmh, torqueNm } = trace
  const floor = fit.shape.liftNm + Math.max(2, 3 * fit.spreadNm)
  const top = quantile(kmh, 0.99)
  const fade = Math.min(fit.shape.fade[1] + 1, 0.5 * top)
  let longest: number | null = null
  let when: number | null = null
  for (let i = 1; i < timeS.length; i++) {
    const released = press[i]! < fit.shape.start && press[i - 1]! >= fit.shape.start
    if (!released || !(kmh[i]! > fade) || !(-torqueNm[i]! > 4 * floor)) continue
    const from = -torqueNm[i]!
    let j = i
    while (j < timeS.length && press[j]! < fit.shape.start && -torqueNm[j]! > Math.max(floor, LEFT * from))
      j++
    // lift-off regeneration ends with the accelerator, not by itself
    if (j >= timeS.length || !(press[j]! < fit.shape.start) || trace.released[j] !== 1) continue
    const lasted = timeS[j]! - timeS[i]!
    if (longest === null || lasted > longest) {
      longest = lasted
      when = timeS[i]!
    }
  }
  return { outlastsS: longest, outlastsAtS: when }
}
