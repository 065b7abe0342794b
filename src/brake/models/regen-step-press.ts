import type { BrakeTrace } from '../../car/brake-trace.ts'
import { FEWEST_READINGS } from '../../math/fewest.ts'
import { jitter } from '../../math/jitter.ts'
import { median, quantile, robustSpread } from '../../math/stats.ts'
import { STEP_SLOWEST_S, torqueJumps } from './torque-jumps.ts'

/** A jump of the map takes at least this share of the most torque. Study: brake maps, 2026-11-27. */
const SHARE = 0.12
/** It stands at one press: in so many presses, within this spread, bar. */
const PRESSES = 3
const SPREAD_BAR = 1.5
/** No ramp is taken to be steeper than this many times the straight line to the highest press. */
const STEEPEST = 3

/**
 * At which press does the torque jump, before any map is known? A change far steeper than the drive's own line from no
 * press to its highest, at the same press again and again while the press rises. Null where it does not.
 */
export function stepPress(trace: BrakeTrace): number | null {
  if (trace.periodS > STEP_SLOWEST_S || (trace.input !== 'pressure' && trace.input !== 'travel')) return null
  const shown = trace.requestNm ?? trace.torqueNm
  const { press, timeS } = trace
  const presses = press.filter((bar) => bar > trace.begunAt)
  if (presses.length < FEWEST_READINGS) return null
  const peak = -quantile(shown, 0.002)
  const slope = (STEEPEST * peak) / Math.max(1e-6, quantile(presses, 0.98))
  const jumps = torqueJumps(trace, jitter(shown), { press, slope, faded: null, ends: false }).filter(
    (each) => each.nm > SHARE * peak && each.sureNm > 0.5 * SHARE * peak,
  )
  const at: number[] = []
  for (const [from, to] of trace.applications) {
    const own = jumps.filter((each) => timeS[each.to]! >= from && timeS[each.to]! <= to)
    if (own.length === 0) continue
    const largest = own.reduce((a, b) => (b.sureNm > a.sureNm ? b : a))
    at.push(press[Math.max(0, largest.from)]!)
  }
  if (at.length < Math.min(PRESSES, trace.applications.length)) return null
  return robustSpread(at) <= SPREAD_BAR ? median(at) : null
}
