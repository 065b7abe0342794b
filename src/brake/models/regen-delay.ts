import { brakeTrace } from '../../car/brake-trace.ts'
import type { Facts } from '../../facts/facts.ts'
import { followDelay } from '../../math/follow-delay.ts'
import { insideEach } from '../../math/spans.ts'
import { quantile } from '../../math/stats.ts'
import { regenLimited } from './regen-limited.ts'
import { regenMap } from './regen-map.ts'
import { aboveFades } from './slowing-map.ts'

/** Slower than five readings a second tells no delay of tenths; no source. */
const SLOWEST_S = 0.21

export interface RegenDelay {
  /** From the brake signal to the motor's torque: the delay of a ramp (dead time and first-order lag alike), s. */
  readonly delayS: number
  readonly plusMinusS: number
  /** Longest time for which regeneration outlasted the press, s; null where no press ended above the fade. */
  readonly outlastsS: number | null
  readonly outlastsAtS: number | null
}

const LEFT = 0.25

/**
 * Dead time and lag of the map's fit; where the fit was to the torque request, plus the shift or lag at which
 * the request fits the torque best (least absolute difference).
 * Null where the log is slower than 5 Hz or the car has only a brake switch.
 */
export function regenDelay(facts: Facts): RegenDelay | null {
  const trace = facts.once(brakeTrace)
  const fit = facts.once(regenMap)
  if (!trace || !fit || trace.input === 'switch' || trace.periodS > SLOWEST_S) return null
  const held = facts.once(regenLimited)?.spans ?? []
  const pressed = insideEach(trace.applications, trace.timeS)
  const limited = insideEach(held, trace.timeS)
  const braking = pressed.map((on, i) => (on === 1 && limited[i] === 0 ? 1 : 0))
  const behind = trace.requestNm
    ? followDelay(trace.timeS, trace.requestNm, trace.torqueNm, braking, trace.periodS).delayS
    : 0
  return {
    delayS: Math.max(0, fit.response.deadS + fit.response.lagS + behind),
    plusMinusS: fit.delayPlusMinusS + (trace.requestNm ? trace.periodS / 2 : 0),
    ...outlasting(facts),
  }
}

/** After a press ends above the fade: how long until the torque has come down to a quarter. */
function outlasting(facts: Facts): { outlastsS: number | null; outlastsAtS: number | null } {
  const trace = facts.once(brakeTrace)!
  const fit = facts.once(regenMap)!
  const { timeS, press, kmh, torqueNm } = trace
  const floor = fit.map.liftNm + Math.max(2, 3 * fit.spreadNm)
  const top = quantile(kmh, 0.99)
  const fade = Math.min(aboveFades(fit.map) + 1, 0.5 * top)
  let longest: number | null = null
  let when: number | null = null
  for (let i = 1; i < timeS.length; i++) {
    const released = press[i]! < fit.map.start && press[i - 1]! >= fit.map.start
    if (!released || !(kmh[i]! > fade) || !(-torqueNm[i]! > 4 * floor)) continue
    const from = -torqueNm[i]!
    let j = i
    while (j < timeS.length && press[j]! < fit.map.start && -torqueNm[j]! > Math.max(floor, LEFT * from)) j++
    // lift-off regeneration ends with the accelerator, not by itself
    if (j >= timeS.length || !(press[j]! < fit.map.start) || trace.released[j] !== 1) continue
    const lasted = timeS[j]! - timeS[i]!
    if (longest === null || lasted > longest) {
      longest = lasted
      when = timeS[i]!
    }
  }
  return { outlastsS: longest, outlastsAtS: when }
}
