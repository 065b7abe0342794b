import { heldFit } from '../../math/held-fit.ts'
import { mean } from '../../math/stats.ts'
import { driversOf, type GroupSeries, type LikelyLaw } from './group-law.ts'
import { warm } from './heat-law.ts'
import { lagOne } from './one-store.ts'

/** Fewer rows have no spread of their own. */
const FEWEST_ROWS = 3

/** A module's thermal resistance against its group's, under each law. */
export interface AgainstGroup {
  /** ln ρ and its standard error by law, in the order of the laws; NaN where a law did not fit. */
  readonly logRatio: Float64Array
  readonly error: Float64Array
  /** ln of how well each law explains this module, up to a constant. */
  readonly logWeight: Float64Array
  /** The module's temperature by the likeliest law, °C. */
  readonly modelC: Float64Array
}

export interface ModuleSeries {
  /** °C on the grid, NaN where not read. */
  readonly celsius: Float64Array
  /** The same without holes. */
  readonly filledC: Float64Array
  readonly coolantC: Float64Array | null
}

/**
 * Spread of a healthy module's heat against its peers': cells' resistances differ by some 3 %, a dozen cells average to
 * 1 %. Common practice, no source.
 */
const HEAT_SPREAD = 0.01
/** ln ρ is sought about 0 so widely: a plate may shed its heat five times worse. */
const LOG_RATIO_SPREAD = 1
/** Constant difference of two sensors, K. From memory. */
const OFFSET_SPREAD_C = 0.5
/** An even reading: least spread of a module's difference, K. */
const LEAST_SPREAD_C = 0.02

/**
 * One module against its group.
 *
 * Model:  T − mean of the group = W(ρ, heat · (1 + h)) − W(1, heat) + o, W the law's temperature at their own coolant
 *         and warmth. What all share (a store too few, heat that is not the current's square, ambient) stands in
 *         both and cancels; its misfit counts as nobody's own error.
 * Gives:  ln ρ under each law, h held to 0 ± 1 %, o to 0 ± 0.5 K; the error from this module's own residual, its slow
 *         wander counted through the lag-one correlation.
 */
export function againstGroup(
  series: GroupSeries,
  module: ModuleSeries,
  laws: readonly LikelyLaw[],
): AgainstGroup {
  const rows: number[] = []
  for (let i = 0; i < module.celsius.length; i++) if (Number.isFinite(module.celsius[i]!)) rows.push(i)
  const gap = module.celsius.map((value, i) => value - series.celsius[i]!)
  const drivers = laws.map((likely) => driversOf(series, module.filledC, module.coolantC, likely))
  const fitBy = (at: number, sigma: number) => {
    const likely = laws[at]!
    return heldFit(
      ([logRatio, heat, offset]) => {
        const own = warm(
          likely.law,
          {
            warming: likely.warming * (1 + heat!),
            cooling: likely.cooling,
            startC: likely.startC,
            resistance: Math.exp(logRatio!),
          },
          drivers[at]!,
        )
        for (let i = 0; i < own.length; i++) own[i]! += offset! - likely.modelC[i]!
        return own
      },
      gap,
      rows,
      [
        { start: 0, step: 1e-3, mean: 0, spread: LOG_RATIO_SPREAD },
        { start: 0, step: 1e-3, mean: 0, spread: HEAT_SPREAD },
        { start: 0, step: 0.01, mean: 0, spread: OFFSET_SPREAD_C },
      ],
      sigma,
    )
  }
  const likeliest = laws.reduce((best, each, at) => (each.logWeight > laws[best]!.logWeight ? at : best), 0)
  const sigma = ownSpread(
    fitBy(likeliest, 0.1 * Math.sqrt(Math.max(1, rows.length / 25)))?.residual ?? null,
    rows,
  )
  const fits = laws.map((_, at) => fitBy(at, sigma))
  const pick = (of: (fit: NonNullable<(typeof fits)[number]>) => number): Float64Array =>
    Float64Array.from(fits, (fit) => (fit ? of(fit) : Number.NaN))
  const best = fits[likeliest]
  const offset = best?.parameters[2] ?? 0
  return {
    logRatio: pick((fit) => fit.parameters[0]!),
    error: pick((fit) => Math.sqrt(fit.covariance[0]!)),
    logWeight: pick((fit) => -fit.cost / 2),
    modelC: best
      ? warm(
          laws[likeliest]!.law,
          {
            ...laws[likeliest]!,
            warming: laws[likeliest]!.warming * (1 + best.parameters[1]!),
            resistance: Math.exp(best.parameters[0]!),
          },
          drivers[likeliest]!,
        ).map((value) => value + offset)
      : new Float64Array(gap.length).fill(Number.NaN),
  }
}

/** Standard deviation of one row so that rows which hang together are not taken for as many witnesses, K. */
function ownSpread(residual: Float64Array | null, rows: readonly number[]): number {
  if (!residual || residual.length < FEWEST_ROWS) return 0.1 * Math.sqrt(Math.max(1, rows.length / 25))
  const rms = Math.max(LEAST_SPREAD_C, Math.sqrt(mean(residual.map((value) => value * value))))
  const r = Math.min(0.98, Math.max(0, lagOne(residual)))
  return rms * Math.sqrt((1 + r) / (1 - r))
}
