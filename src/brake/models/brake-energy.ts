import type { Span } from '../../../shared/units.ts'
import { packCurrent } from '../../car/pack-current.ts'
import { packPower } from '../../car/pack-power.ts'
import type { Facts } from '../../facts/facts.ts'
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

/** Longest step between current samples over which power is integrated, s. */
const LONGEST_GAP_S = 3

/** P = U · I by the trapezium rule, charge and discharge apart. Gives null without pack current and a voltage. */
export function brakeEnergy(facts: Facts): BrakeEnergy | null {
  const power = facts.once(packPower)
  const current = facts.once(packCurrent)
  if (!power || !current) return null
  const { timeS, watts } = power
  const inWh = new Float64Array(timeS.length)
  const outWh = new Float64Array(timeS.length)
  for (let i = 1; i < timeS.length; i++) {
    const dt = timeS[i]! - timeS[i - 1]!
    const mean = (watts[i]! + watts[i - 1]!) / 2
    const wh = dt <= LONGEST_GAP_S && Number.isFinite(mean) ? (mean * dt) / 3600 : 0
    inWh[i] = inWh[i - 1]! + Math.max(0, -wh)
    outWh[i] = outWh[i - 1]! + Math.max(0, wh)
  }
  return {
    timeS,
    amperes: power.amperes,
    volts: power.volts,
    inWh,
    outWh,
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
