import type { Facts } from '../../facts/facts.ts'
import type { PrechargeRun } from './precharge-runs.ts'

/** τ measured ÷ R·C of the vehicle file, the load taken out; null where either is unknown. */
export function tauRatio(facts: Facts, run: PrechargeRun): number | null {
  const { resistor_ohm, link_farad } = facts.vehicle.precharge ?? {}
  if (!run.tau || !run.fit || !resistor_ohm || !link_farad) return null
  return run.tau.value / (resistor_ohm * link_farad * Math.min(1, run.fit.plateau / run.packV))
}
