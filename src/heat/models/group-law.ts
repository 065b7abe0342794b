import type { WarmthLaw } from '../../car/resistance-warmth.ts'
import { warmthFactor } from '../../car/resistance-warmth.ts'
import { type HeldFit, heldFit } from '../../math/held-fit.ts'
import { mean } from '../../math/stats.ts'
import {
  ACTIVATIONS_K,
  type Drivers,
  type HeatLaw,
  LINEAR,
  logPrior,
  STORES,
  USUAL,
  warm,
} from './heat-law.ts'
import { lagOne } from './one-store.ts'

/** What all modules of a cooling group went through, on an even grid; temperatures without holes. */
export interface GroupSeries {
  readonly stepS: number
  /** Mean of the group's usual modules, °C. */
  readonly celsius: Float64Array
  readonly squaredA2: Float64Array
  /** Mean magnitude of the current, A. */
  readonly magnitudeA: Float64Array
  /** Coolant at them, °C; null where none is logged: then one constant is fitted. */
  readonly coolantC: Float64Array | null
  readonly pumping: Uint8Array | null
}

/** One law with its shared figures, and how likely it is among those kept. */
export interface LikelyLaw {
  readonly law: HeatLaw
  readonly warming: number
  readonly cooling: number
  readonly startC: number
  /** °C of the coolant where none is logged. */
  readonly restC: number
  readonly logWeight: number
  /** The group's temperature by it, °C. */
  readonly modelC: Float64Array
}

interface Fitted {
  readonly law: HeatLaw
  readonly fit: HeldFit
  readonly run: (parameters: Float64Array) => Float64Array
  readonly rms: number
}

/** Pairs of stores that are tried with other falls of heat than the usual. */
const NEAR_STORES = 7
/** Laws less likely than the best by this factor are let go. */
const KEPT = Math.log(200)
const MOST_LAWS = 12
/** A misfit that no law is blamed for, K. From memory. */
const FLOOR_C = 0.03
/** Time constant of a module on its plate, s, and how widely that may differ (ln). Common practice, no source. */
const USUAL_TAU = { seconds: 2000, spread: 0.8 }
/** Residuals hang together: a drive is worth so many independent readings at the least and the most. */
const WITNESSES = { least: 4, most: 40 }
/** Gauss–Hermite nodes and weights of three points: what a law's own figures leave open. */
const NODES = [
  { at: 0, logWeight: Math.log(2 / 3) },
  { at: Math.sqrt(3), logWeight: Math.log(1 / 6) },
  { at: -Math.sqrt(3), logWeight: Math.log(1 / 6) },
]

/** Heat of a module at its own temperature, A². */
function heatAt(
  { squaredA2, magnitudeA }: Pick<GroupSeries, 'squaredA2' | 'magnitudeA'>,
  celsius: Float64Array,
  { activationK, linear }: Pick<HeatLaw, 'activationK' | 'linear'>,
): Float64Array {
  const alike = linear > 0 ? mean(squaredA2) / mean(magnitudeA) : 0
  return squaredA2.map((square, i) => {
    const made = linear > 0 ? (1 - linear) * square + linear * alike * magnitudeA[i]! : square
    return activationK === 0 ? made : made * warmthFactor(activationK, celsius[i]!)
  })
}

/**
 * Which laws of heat the mean of a group speaks for: each law's a, b and start by least squares, weighted by how well it
 * follows. What no law follows (its misfit is shared by all modules) makes the laws alike in weight instead of widening
 * each module's own error.
 *
 * Biased by: heat that is not the square of the current. Blind: a drive too short to warm the pack (the caller guards).
 */
export function groupLaws(series: GroupSeries, warmth: WarmthLaw): LikelyLaw[] {
  const n = series.celsius.length
  const fits = nearLaws(series)
  if (fits.length === 0) return []
  const closest = fits.reduce((best, each) => (each.rms < best.rms ? each : best))
  const r = Math.min(0.99, Math.max(0, lagOne(closest.fit.residual)))
  const witnesses = Math.min(WITNESSES.most, Math.max(WITNESSES.least, (n * (1 - r)) / (1 + r)))
  const weighed = fits
    .map((each) => ({
      ...each,
      logWeight: logPrior(each.law, warmth) - (witnesses / 2) * Math.log(each.rms ** 2 + FLOOR_C ** 2),
    }))
    .sort((a, b) => b.logWeight - a.logWeight)
  const kept = weighed.filter((each) => each.logWeight > weighed[0]!.logWeight - KEPT).slice(0, MOST_LAWS)
  return kept.flatMap((each) => {
    // the figures' covariance, by the misfit as it is
    const scale = (Math.hypot(each.rms, FLOOR_C) * Math.sqrt(n / witnesses)) / rowSpread(n)
    return alongCooling(each, each.logWeight, scale)
  })
}

/** Every store with the usual law of heat, and the stores that follow best with all laws. */
function nearLaws(series: GroupSeries): Fitted[] {
  // the stores by the heat's usual fall first: what is far off there is far off at any
  const usually = { activationK: ACTIVATIONS_K[USUAL]!, linear: 0 }
  const usual = STORES.flatMap((stores) => fitLaw(series, { ...stores, ...usually }))
  const near = usual.sort((a, b) => a.rms - b.rms).slice(0, NEAR_STORES)
  return near.flatMap((each) => [
    each,
    ...LINEAR.flatMap((linear) =>
      ACTIVATIONS_K.flatMap((activationK) =>
        activationK === usually.activationK && linear === 0
          ? []
          : fitLaw(series, { ...each.law, activationK, linear }),
      ),
    ),
  ])
}

/** Standard deviation that a row is fitted with: rows of one curve hang together, K. */
const rowSpread = (rows: number): number => 0.3 * Math.sqrt(rows / 20)

/** A law's figures by least squares: warming, cooling, start, and the plate's temperature where no coolant is logged. */
function fitLaw(series: GroupSeries, law: HeatLaw): Fitted[] {
  const { celsius, stepS, pumping } = series
  const n = celsius.length
  const firstC = celsius[0]!
  const heat = heatAt(series, celsius, law)
  const put = heat.reduce((sum, value) => sum + value, 0) * stepS
  if (!(put > 0)) return []
  const run = (p: Float64Array): Float64Array =>
    warm(
      law,
      { warming: Math.exp(p[0]!), cooling: Math.exp(p[1]!), startC: p[2]!, resistance: 1 },
      { stepS, heat, coolantC: series.coolantC ?? new Float64Array(n).fill(p[3] ?? firstC), pumping },
    )
  const rise = Math.max(0.5, ...celsius.map((value) => value - firstC))
  const logA = Math.log((1.3 * rise) / put)
  const logB = -Math.log(USUAL_TAU.seconds)
  const fit = heldFit(
    run,
    celsius,
    Array.from({ length: n }, (_, i) => i),
    [
      { start: logA, step: 1e-3, mean: logA, spread: 3 },
      { start: logB, step: 1e-3, mean: logB, spread: USUAL_TAU.spread },
      { start: firstC, step: 0.01, mean: firstC, spread: 1 },
      ...(series.coolantC ? [] : [{ start: firstC, step: 0.01, mean: firstC, spread: 5 }]),
    ],
    rowSpread(n),
  )
  return fit ? [{ law, fit, run, rms: Math.sqrt(mean(fit.residual.map((value) => value * value))) }] : []
}

/** A law at its figures and at `NODES` along what its cooling leaves open, the other figures following. */
function alongCooling({ law, fit, run }: Fitted, logWeight: number, scale: number): LikelyLaw[] {
  const k = fit.parameters.length
  const errorB = Math.sqrt(fit.covariance[k + 1]!)
  return NODES.map((node): LikelyLaw => {
    const p = fit.parameters.map((value, j) => value + (node.at * scale * fit.covariance[k + j]!) / errorB)
    return {
      law,
      warming: Math.exp(p[0]!),
      cooling: Math.exp(p[1]!),
      startC: p[2]!,
      restC: p[3] ?? Number.NaN,
      logWeight: logWeight + node.logWeight,
      modelC: run(p),
    }
  })
}

/** What drives a module under a law. */
export function driversOf(
  series: Omit<GroupSeries, 'celsius' | 'coolantC'>,
  celsius: Float64Array,
  coolantC: Float64Array | null,
  likely: LikelyLaw,
): Drivers {
  return {
    stepS: series.stepS,
    heat: heatAt(series, celsius, likely.law),
    coolantC: coolantC ?? new Float64Array(celsius.length).fill(likely.restC),
    pumping: series.pumping,
  }
}
