import type { Span } from '../../../shared/units.ts'
import { brakeTrace } from '../../car/brake-trace.ts'
import type { Facts } from '../../facts/facts.ts'
import { indexAt } from '../../samples/on-one-clock.ts'
import { brakeEnergy, chargedIn } from './brake-energy.ts'
import { brakeSplit } from './brake-split.ts'

/** A shorter press gives no figure of its own; no source. */
const FIGURES_FROM_S = 0.5

/** One press of the brake while the car moved. */
export interface BrakeApplication {
  readonly span: Span
  readonly fromKmh: number
  readonly toKmh: number
  /** Highest press, in the input's unit. */
  readonly peak: number
  /** Most regeneration, N·m ≥ 0. */
  readonly peakNm: number
  readonly chargedWh: number | null
  readonly peakChargeA: number | null
  /** Mean deceleration, (v₁ − v₂) / duration, m/s²; null under half a second. */
  readonly decelerationMs2: number | null
  readonly decelerationPlusMinus: number | null
}

/** Speed reading's tolerance at either end of an application, km/h. Common practice, no source. */
const SPEED_PLUS_MINUS_KMH = 0.5

export function brakeApplications(facts: Facts): readonly BrakeApplication[] {
  const trace = facts.once(brakeTrace)
  if (!trace || trace.input === 'none') return []
  const energy = facts.once(brakeEnergy)
  return trace.applications.map((span) => {
    const first = Math.max(0, indexAt(trace.timeS, span[0]))
    const last = indexAt(trace.timeS, span[1])
    let peak = 0
    let least = 0
    for (let i = first; i <= last; i++) {
      if (trace.press[i]! > peak) peak = trace.press[i]!
      if (trace.torqueNm[i]! < least) least = trace.torqueNm[i]!
    }
    const charged = energy ? chargedIn(energy, span) : null
    const seconds = span[1] - span[0]
    const fromKmh = trace.kmh[first]!
    const toKmh = trace.kmh[last]!
    const long = seconds >= FIGURES_FROM_S
    return {
      span,
      fromKmh,
      toKmh,
      peak,
      peakNm: -least,
      chargedWh: charged?.wh ?? null,
      peakChargeA: charged?.peakA ?? null,
      decelerationMs2: long ? (fromKmh - toKmh) / 3.6 / seconds : null,
      decelerationPlusMinus: long ? (Math.SQRT2 * SPEED_PLUS_MINUS_KMH) / 3.6 / seconds : null,
    }
  })
}

/**
 * Share of regeneration in each application's braking, percent: ∫ torque · v over ∫ (torque + friction as torque) · v.
 * Null as a whole where friction is not separable.
 */
export function regenShares(facts: Facts): readonly (number | null)[] | null {
  const trace = facts.once(brakeTrace)
  const split = facts.once(brakeSplit)
  if (!trace || !split || split.perPress === null) return null
  const friction = split.perPress / split.perNm
  return trace.applications.map(([from, to]) => {
    let regen = 0
    let all = 0
    for (
      let i = Math.max(0, indexAt(trace.timeS, from));
      i < trace.timeS.length && trace.timeS[i]! <= to;
      i++
    ) {
      const nm = Math.max(0, -trace.torqueNm[i]!)
      const work = trace.kmh[i]!
      if (!Number.isFinite(nm * work)) continue
      regen += nm * work
      all += (nm + friction * Math.max(0, trace.press[i]! - split.bite)) * work
    }
    return all > 0 ? (100 * regen) / all : null
  })
}
