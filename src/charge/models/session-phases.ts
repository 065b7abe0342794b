import type { ChargeSession, Holder } from '../../../shared/review.ts'
import { extremes } from '../../math/stats.ts'
import type { SessionSeries } from './session-series.ts'

type Phase = ChargeSession['phases'][number]

/** Shorter phases belong to those before them: a hundredth of the session, at least so many seconds. */
const SHORTEST_S = 60
/** A current under this share of the session's most is no longer its constant one. Common practice, no source. */
const TAPERED = 0.93

/**
 * Constant current, constant voltage, taper, pause, by who held the current:
 * nothing flows → pause; the voltage stands at what was asked → constant voltage; the request was taken back, or the
 * current with it → taper; else constant current.
 */
export function sessionPhases(
  { timeS, stepS, span, delivered }: SessionSeries,
  by: readonly Holder[],
): Phase[] {
  const most = extremes(delivered).high
  const typeAt = (i: number): Phase['type'] => {
    const who = by[i]!
    if (who === 'pause') return 'pause'
    if (who === 'voltage') return 'constant-voltage'
    const taken = ['highest-cell', 'warmest', 'coldest', 'battery-unit'].includes(who)
    return taken && delivered[i]! < TAPERED * most ? 'taper' : 'constant-current'
  }
  const least = Math.max(SHORTEST_S, (span[1] - span[0]) / 100)
  const phases: { type: Phase['type']; span_s: [number, number] }[] = []
  let from = 0
  for (let i = 1; i <= by.length; i++) {
    if (i < by.length && typeAt(i) === typeAt(from)) continue
    const type = typeAt(from)
    const endS = i < by.length ? timeS[i]! : timeS[i - 1]! + stepS
    const last = phases.at(-1)
    const short = endS - timeS[from]! < least && type !== 'pause'
    if (last && (last.type === type || short)) last.span_s[1] = endS
    else phases.push({ type, span_s: [timeS[from]!, endS] })
    from = i
  }
  return phases
}
