import type { Span } from '../../../shared/units.ts'
import { packCurrent } from '../../car/pack-current.ts'
import { FLOW_GAP_S, packFlow } from '../../car/pack-flow.ts'
import { packPower } from '../../car/pack-power.ts'
import type { Facts } from '../../facts/facts.ts'
import { runningSplit } from '../../math/split-integral.ts'
import { indexAt } from '../../samples/on-one-clock.ts'

/** Running integrals of the battery's power, so that the energy of any span costs two look-ups. */
export interface BrakeEnergy {
  readonly timeS: Float64Array
  readonly amperes: Float64Array
  readonly volts: Float64Array
  /** Wh charged into the pack (only where current flows in) and drawn from it, from the start up to each sample. */
  readonly inWh: Float64Array
  readonly outWh: Float64Array
  /** 95 % tolerance of a power, percent (current's gain and voltage's scale). */
  readonly scalePercent: number
  readonly zeroPlusMinusA: number
}

/** P = U · I as the drive's energy has it (`packFlow`), charge and discharge apart. Null without current and a voltage. */
export function brakeEnergy(facts: Facts): BrakeEnergy | null {
  const power = facts.once(packPower)
  const flow = facts.once(packFlow)
  const current = facts.once(packCurrent)
  if (!power || !flow || !current) return null
  const { above, below } = runningSplit(
    flow.timeS,
    flow.watts.map((watts) => watts / 3600),
    FLOW_GAP_S,
  )
  return {
    timeS: flow.timeS,
    amperes: power.amperes,
    volts: power.volts,
    inWh: below,
    outWh: above,
    scalePercent: Math.hypot(current.gainPercent, power.voltsPercent),
    zeroPlusMinusA: current.zeroPlusMinusA ?? 0.5,
  }
}

/** Wh charged during the span, and the largest charge current in it (A, ≥ 0). */
export function chargedIn(energy: BrakeEnergy, [from, to]: Span): { wh: number; peakA: number } {
  const first = Math.max(0, indexAt(energy.timeS, from))
  const last = Math.max(first, indexAt(energy.timeS, to))
  let peakA = 0
  for (let i = first; i <= last; i++) if (-energy.amperes[i]! > peakA) peakA = -energy.amperes[i]!
  return { wh: (energy.inWh[last] ?? 0) - (energy.inWh[first] ?? 0), peakA }
}
