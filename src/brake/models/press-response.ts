import type { BrakeTrace } from '../../car/brake-trace.ts'
import { lagged } from '../../math/follow-delay.ts'

/** How the driver's press reaches the map: dead time, first-order lag, and play between rising and falling press. */
export interface Response {
  /** s; negative where the brake signal is written later than the torque that follows it. */
  readonly deadS: number
  readonly lagS: number
  /** What the lag filters: the press before the map, or the torque after it. */
  readonly lagOn: 'press' | 'torque'
  /** By so much the press must fall before the map follows it down, in the input's unit (hysteresis). */
  readonly back: number
}

/** A gap over which nothing is carried on, s. */
const GAP_S = 0.6
/** A lag under this is none, s. */
export const LAG_NONE_S = 1e-4

/** A press as dead time, lag and play pass it on, from all that went before. */
export function respond(
  timeS: Float64Array,
  press: Float64Array,
  { deadS, lagS, back }: { readonly deadS: number; readonly lagS: number; readonly back: number },
): Float64Array {
  if (deadS === 0 && lagS <= LAG_NONE_S && back === 0) return press
  const out = new Float64Array(press.length)
  let from = 0
  let state = 0
  let before = 0
  let played = 0
  for (let i = 0; i < press.length; i++) {
    const fresh = i === 0 || timeS[i]! - timeS[i - 1]! > GAP_S || !Number.isFinite(state)
    if (fresh) from = i
    const moment = timeS[i]! - deadS
    const known = deadS < 0 ? press.length - 1 : i
    while (from + 1 < known && timeS[from + 1]! <= moment && timeS[from + 1]! - timeS[from]! <= GAP_S) from++
    const next = from + 1 <= known ? timeS[from + 1]! - timeS[from]! : 0
    const gap = next <= GAP_S ? next : 0
    const share = gap > 0 ? Math.min(1, Math.max(0, (moment - timeS[from]!) / gap)) : 0
    const target = press[from]! + (gap > 0 ? share * (press[from + 1]! - press[from]!) : 0)
    const still = fresh || lagS <= LAG_NONE_S
    state = still ? target : lagged(state, before, target, timeS[i]! - timeS[i - 1]!, lagS)
    before = target
    played = fresh ? state : Math.min(state + back, Math.max(state, played))
    out[i] = back > 0 ? played : state
  }
  return out
}

/** The whole trace's press as the map gets to see it, the torque's own lag taken for one of the press. */
export function arrivedPress(trace: BrakeTrace, response: Response): Float64Array {
  return respond(trace.timeS, trace.press, response)
}
