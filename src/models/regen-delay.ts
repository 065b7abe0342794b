import type { Facts } from '../analyses/analysis.ts'
import { quantile } from '../math/stats.ts'
import { brakeTrace } from './brake-trace.ts'
import { regenLimits } from './regen-limits.ts'
import { mapNm, regenMap } from './regen-map.ts'
import { regenRows } from './regen-rows.ts'

export interface RegenDelay {
  /** From the brake signal to the motor's torque: the delay of a ramp (dead time and first-order lag alike), s. */
  readonly delayS: number
  readonly plusMinusS: number
  /** Longest time for which regeneration outlasted the press, s; null where no press ended above the fade. */
  readonly outlastsS: number | null
  readonly outlastsAtS: number | null
}

const ROWS = 12000
const LONGEST_S = 2
const LEFT = 0.25

/**
 * The delay d that makes map(press(t − d), v) fit the torque best (least absolute error, parabola through the lowest
 * three), over all brake applications. Null where the log is slower than 5 Hz.
 * Interval: ± one sample, or the width over which the misfit stays within 2 %.
 */
export function regenDelay(facts: Facts): RegenDelay | null {
  const trace = facts.once(brakeTrace)
  const fit = facts.once(regenMap)
  if (!trace || !fit || trace.input === 'switch' || trace.periodS > 0.21) return null
  const rows = regenRows({ ...trace, requestNm: null }, facts.once(regenLimits), ROWS)
  const asked = rows.press.map((press, i) => mapNm(fit.shape, press, rows.kmh[i]!))
  const step = Math.max(0.005, trace.periodS / 2)
  const costs: number[] = []
  for (let d = 0; d <= LONGEST_S; d += step) {
    costs.push(misfit(rows.timeS, rows.run, asked, rows.nm, d))
    if (costs.length > 20 && costs[costs.length - 1]! > 3 * Math.min(...costs)) break
  }
  const best = costs.indexOf(Math.min(...costs))
  const [left, centre, right] = [costs[best - 1], costs[best]!, costs[best + 1]]
  const bend = left !== undefined && right !== undefined ? left - 2 * centre + right : 0
  const shift = bend > 0 ? (0.5 * (left! - right!)) / bend : 0
  const flat = costs.filter((cost) => cost < 1.02 * centre).length * step
  return {
    delayS: Math.max(0, (best + shift) * step),
    plusMinusS: Math.max(trace.periodS / 2, flat / 2),
    ...outlasting(facts),
  }
}

function misfit(
  timeS: Float64Array,
  run: Int32Array,
  asked: Float64Array,
  nm: Float64Array,
  delay: number,
): number {
  let sum = 0
  let count = 0
  let at = 0
  for (let i = 0; i < nm.length; i++) {
    const moment = timeS[i]! - delay
    while (at < i && timeS[at + 1]! <= moment) at++
    if (run[at] !== run[i] || timeS[at]! > moment || at + 1 > i) {
      if (delay > 0) continue
      at = i
    }
    const gap = at + 1 < nm.length && run[at + 1] === run[i] ? timeS[at + 1]! - timeS[at]! : 0
    const share = gap > 0 ? (moment - timeS[at]!) / gap : 0
    const then = asked[at]! + (gap > 0 ? share * (asked[at + 1]! - asked[at]!) : 0)
    sum += Math.abs(then - nm[i]!)
    count++
  }
  return count > 0 ? sum / count : Number.POSITIVE_INFINITY
}

/** After a press ends above the fade: how long until the torque has come down to a quarter. */
function outlasting(facts: Facts): { outlastsS: number | null; outlastsAtS: number | null } {
  const trace = facts.once(brakeTrace)!
  const fit = facts.once(regenMap)!
  const { timeS, press, kmh, torqueNm } = trace
  const floor = (fit.liftNm?.value ?? 0) + Math.max(2, 3 * fit.spreadNm)
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
    if (j >= timeS.length || !(press[j]! < fit.shape.start)) continue
    const lasted = timeS[j]! - timeS[i]!
    if (longest === null || lasted > longest) {
      longest = lasted
      when = timeS[i]!
    }
  }
  return { outlastsS: longest, outlastsAtS: when }
}
