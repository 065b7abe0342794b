import { LEAST_LIFT_NM, type RegenRows } from './regen-rows.ts'
import { type Attempt, attempt, better, P } from './slowing-attempt.ts'

/** Shares of a lag of the torque that may be one of the press: the fade follows the speed at once, the press does not. */
const PRESS_SHARES = [0.35, 0.6, 0.85] as const

/** A lag of the torque shared with the press, where that explains more: else it moves the fade to higher speeds. */
export function withLagShared(rows: RegenRows, settled: Attempt): Attempt {
  const lag = settled.fit.parameters[P.lag]!
  if (settled.setup.lagOn !== 'torque' || lag < LAG_SHARED_S) return settled
  let best = settled
  for (const share of PRESS_SHARES) {
    const from = Float64Array.from(settled.fit.parameters)
    from[P.lag] = (1 - share) * lag
    best = better(best, attempt(rows, { ...settled.setup, pressLagS: share * lag }, 5, from))
  }
  return best
}

/** Shorter lags move nothing, s. */
const LAG_SHARED_S = 0.04

/** The same map with a fade of lift-off's own, however little it explains more: how far the brake part's fade is open. */
export function apartFade(rows: RegenRows, settled: Attempt): Attempt | null {
  if (settled.setup.liftFade !== 'same' || !(settled.fit.parameters[P.lift]! >= LEAST_LIFT_NM)) return null
  let best: Attempt | null = null
  for (const scale of [0.6, 1.6]) {
    const from = Float64Array.from(settled.fit.parameters)
    from[P.liftLow] = scale * Math.max(1, from[P.fade]!)
    from[P.liftWidth] = from[P.width]!
    best = better(best, attempt(rows, { ...settled.setup, liftFade: 'own' }, 6, from))
  }
  return best
}
