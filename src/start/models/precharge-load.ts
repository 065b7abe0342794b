import type { Facts } from '../../facts/facts.ts'
import type { ExponentialFit } from '../../math/exponential.ts'
import { loadOhm, resistorFromTau, resistorHeatJ, resistorHeatWithLoadJ } from './precharge-physics.ts'

/** An estimate with its 95 % interval; `high` is +Infinity where nothing bounds it. */
export interface Estimate {
  readonly value: number
  readonly low: number
  readonly high: number
}

/** A resistor is built to this tolerance, 95 %. Common practice, no source. */
const RESISTOR_TOLERANCE = 0.05
/** One worked out from the time constant and the capacitance is known to this; no source. */
const LEARNED_TOLERANCE = 0.25
/** A link charged so far took nearly all of a whole charging's heat; no source. */
const WHOLE_PERCENT = 90

/** What the link was loaded with meanwhile, and what the resistor turned into heat. */
export function loadAndHeat(
  facts: Facts,
  run: {
    packV: number
    startV: number
    durationS: number
    fit: ExponentialFit | null
    tau: Estimate | null
    steady: Estimate | null
    reached: Estimate
    rose: boolean
  },
): { load: Estimate | null; heatJ: number | null } {
  const { resistor_ohm, link_farad } = facts.vehicle.precharge ?? {}
  const { steady, tau, packV, fit } = run
  const share = steady ? steady.value / 100 : Number.NaN
  const resistor =
    resistor_ohm ?? (tau && link_farad ? resistorFromTau(tau.value, share, link_farad) : undefined)
  let load: Estimate | null = null
  if (steady && resistor !== undefined && run.rose) {
    const spread = resistor_ohm !== undefined ? RESISTOR_TOLERANCE : LEARNED_TOLERANCE
    load = {
      value: loadOhm(share, resistor),
      low: loadOhm(Math.max(0, steady.low / 100), resistor) * (1 - spread),
      high: loadOhm(steady.high / 100, resistor) * (1 + spread),
    }
  }
  if (fit && resistor !== undefined) {
    const heatJ = resistorHeatWithLoadJ(
      packV,
      Math.min(fit.plateau, packV),
      run.startV,
      fit.tau,
      resistor,
      run.durationS,
    )
    return { load, heatJ }
  }
  const whole = link_farad !== undefined && run.reached.value > WHOLE_PERCENT
  return {
    load,
    heatJ: whole ? resistorHeatJ(link_farad, packV, Math.min(1, run.reached.value / 100)) : null,
  }
}
