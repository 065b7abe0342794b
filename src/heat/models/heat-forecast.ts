import { warmthFactor } from '../../car/resistance-warmth.ts'
import type { Facts } from '../../facts/facts.ts'
import { mean } from '../../math/stats.ts'
import { settledShare } from './heat-law.ts'
import { temperatureLimit } from './temperature-limit.ts'
import type { ModuleHeat, ThermalFit } from './thermal-fit.ts'

/** A law that does so badly beside the best says nothing. */
const LEAST_WEIGHT = 0.01

export interface HeatForecast {
  /** Where the module settles on this drive's load and last coolant temperature, °C. */
  readonly settlesC: number
  readonly plusMinusC: number
  /** Seconds to its limit on that load from the temperature at the log's end; null where it settles below. */
  readonly limitS: number | null
  /** Lower end of that time (95 %), s; null where even the upper end of the forecast stays below the limit. */
  readonly earliestS: number | null
  readonly limitC: number
}

/** Forecasts further off than this are no news of the next drive, s. Common practice, no source. */
export const SOON_S = 1800

/** The lower end of the time, in the safety page's words. */
export function possiblyWithin(earliestS: number): string {
  const minutes = Math.floor(earliestS / 60)
  return `possibly within ${minutes < 1 ? 'a minute' : `${minutes} min`} (the lower end); do not drive to find out`
}

/** A forecast is not trusted beyond this share of the rise, however well a law follows. From memory. */
const LEAST_SHARE = 0.1

/**
 * Where a module settles if this drive's mean load went on, under each law that the drive speaks for.
 *
 * Model:  S = Tc + a · mean(I²) · e^(E·(1/S − 1/298.15)) · ρ/b, as far as the sensor shows it; then T(t) goes towards S with
 *         ρ/b, the slowest time constant.
 * Biased by: a load that changes; coolant that warms further (then it comes sooner).
 * Blind: places hotter than the sensor's. Never leave to drive on: words by the safety page.
 */
export function heatForecast(
  facts: Facts,
  fit: ThermalFit,
  heat: ModuleHeat,
  celsius: Float64Array,
): HeatForecast | null {
  const coolant = fit.coolantC?.[fit.coolantC.length - 1]
  const now = [...celsius].reverse().find((value) => Number.isFinite(value))
  if (coolant === undefined || now === undefined || heat.laws.length === 0) return null
  const load = mean(fit.squaredA2)
  const limitC = temperatureLimit(facts).celsius
  const settled = heat.laws.map(({ likely, resistance, weight }) => {
    const tauS = resistance / likely.cooling
    const full = likely.warming * load * tauS * settledShare(likely.law, resistance)
    let aboveC = full
    for (let round = 0; round < 20; round++)
      aboveC = 0.5 * (aboveC + full * warmthFactor(likely.law.activationK, Math.min(120, coolant + aboveC)))
    return { weight, tauS, aboveC }
  })
  const over = (of: (each: (typeof settled)[number]) => number): number =>
    settled.reduce((sum, each) => sum + each.weight * of(each), 0)
  const aboveC = over((each) => each.aboveC)
  const tauS = over((each) => each.tauS)
  const apart = Math.sqrt(over((each) => (each.aboveC - aboveC) ** 2))
  const error = Math.hypot(apart, aboveC * Math.max(LEAST_SHARE, heat.logError))
  const until = (settlesC: number, byS: number): number | null =>
    settlesC <= limitC ? null : now >= limitC ? 0 : -byS * Math.log((settlesC - limitC) / (settlesC - now))
  const earliest = settled
    .filter((each) => each.weight > LEAST_WEIGHT)
    .map((each) => until(coolant + each.aboveC + 1.96 * error, each.tauS))
    .filter((each) => each !== null)
  return {
    settlesC: coolant + aboveC,
    plusMinusC: 1.96 * error,
    limitS: until(coolant + aboveC, tauS),
    earliestS: earliest.length > 0 ? Math.min(...earliest) : null,
    limitC,
  }
}
