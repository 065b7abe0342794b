import { CHEMISTRY } from '../../../shared/limits.ts'
import type { Facts } from '../../facts/facts.ts'
import { type LineFit, leastSquares } from '../../math/least-squares.ts'
import { mean } from '../../math/stats.ts'
import { invertSymmetric } from '../../math/symmetric.ts'
import { type CoolantSeries, coolantSeries } from './coolant-series.ts'
import { thermalFit } from './thermal-fit.ts'

/**
 * J/(l·K) of half water, half ethylene glycol at 30 °C: 1059 kg/m³ · 3363 J/(kg·K). Source: CoolProp 8.0.0,
 * `INCOMP::MEG-50%`, mean of 20 and 40 °C (density against ASHRAE Fundamentals' 66.9 lb/ft³ at 80 °F: 1 % apart).
 */
export const HEAT_PER_LITRE = 3561

/** What the log says of the flow: a posterior over litres a minute, and what shaped it. */
export interface CoolantFlow {
  readonly series: CoolantSeries
  /** 0.5th, 2.5th, 50th, 97.5th and 99.5th percentile, l/min. */
  readonly litres: { lowest: number; low: number; middle: number; high: number; highest: number }
  /** Mean that the coolant warmed by, K: of the fitted response, the sensors' difference left out. */
  readonly warmedC: number
  /** What the same heat gives at another flow, K. */
  warmedAt(litresPerMinute: number): number
  /** Mean heat that cells gave to the coolant, W, 95 %; negative where it warmed them. */
  readonly cellHeatW: readonly [number, number]
  /** Share of the warming that follows the electrical power, inverter and motor that is. */
  readonly driveShare: number
}

/** Time constants tried for the drive's heat on its way into the coolant, s. */
export const DRIVE_LAGS_S = [1, 15, 60, 180, 500]
/** Share of the electrical power that inverter and motor turn into heat, where they lie in the loop at all. */
const LOSS_SHARES = [0.03, 0.045, 0.0675, 0.1, 0.15]
/** So many seconds of the log say one thing: residuals hang together. */
export const TOGETHER_S = 60
/**
 * Heat that cells hold: 1000 J/(kg·K) over 200 Wh/kg (150 for LFP), and by what factor it may differ, housings and air
 * losses included. Cells 800 to 1100 J/(kg·K): literature digest; the rest common practice, no source. Where the modules'
 * warming told R/C of its own, C follows from the pack's resistance within its own factor.
 */
const JOULE_KELVIN_WH = { lfp: 6.7, other: 5 }
const STORE_FACTOR = { fromEnergy: 1.6, fromWarming: 1.3 }
/** Error of the heat made: resistance rises with the time a load lasts. Common practice, no source. */
const HEAT_MADE_SHARE = 0.15

/**
 * How much coolant flows, from how much it warms?
 *
 * Model:  warmed(t) = [ UA · (T̄ − Tin)(t) + s · |P|(t, lagged) ] / (flow · c) + o
 *         UA · mean(T̄ − Tin) = mean cell heat − stored in the cells (C · rise / time)
 * with s = 0 (inverter and motor elsewhere) or 3 to 15 % of the electrical power; o the sensors' difference. For each
 * lag the two responses are fitted by least squares; then every flow from 0.05 to 400 l/min is weighed with every UA and
 * s that it could go with: how well the fit allows both responses, and the heat balance UA. Flat over the flow's
 * logarithm, so a drive that says nothing gives an interval over all of it.
 * Reads: coolant_in, coolant_out, module temperatures [°C], pack_current [A], pack_voltage [V], capacity_ah.
 * Biased by: heat to the air (counted as stored: within its share); water instead of glycol (+17 %).
 * Source: Q = ṁ·c·ΔT, any heat-transfer textbook. null without module temperatures or capacity.
 */
export function coolantFlow(facts: Facts): CoolantFlow | null {
  const series = facts.once(coolantSeries)
  if (!series?.aboveC) return null
  const store = heatStore(facts, series.ohm)
  if (store === null) return null
  const fits = responses(series)
  if (fits.length === 0) return null
  const best = fits.reduce((a, b) => (b.fit.sumOfSquares < a.fit.sumOfSquares ? b : a))
  const above = mean(series.aboveC)
  const balance = heatBalance(series, store, above, CONDUCTANCES)
  const { ofFlow, ofConductance } = weighed(series, fits, best.fit.sumOfSquares, balance)
  const total = ofFlow.reduce((sum, value) => sum + value, 0)
  if (!(total > 0)) return null
  const quantile = (share: number): number => weightedQuantile(FLOWS, ofFlow, share)
  const heat = [0.025, 0.975].map((share) => above * weightedQuantile(CONDUCTANCES, ofConductance, share))
  const cellPart = Math.max(0, best.fit.coefficients[0]! * above)
  const drivePart = Math.max(0, best.fit.coefficients[1]! * mean(best.drive))
  const middle = quantile(0.5)
  const warmed = cellPart + drivePart
  return {
    series,
    litres: {
      lowest: quantile(0.005),
      low: quantile(0.025),
      middle,
      high: quantile(0.975),
      highest: quantile(0.995),
    },
    warmedC: warmed,
    warmedAt: (litresPerMinute) => (warmed * middle) / litresPerMinute,
    cellHeatW: [Math.min(...heat), Math.max(...heat)],
    driveShare: warmed > 0 ? drivePart / warmed : 0,
  }
}

/** Flows, l/min, and plates' conductances, W/K, that are tried. */
const FLOWS = Float64Array.from({ length: 91 }, (_, i) => 0.05 * 8000 ** (i / 90))
const CONDUCTANCES = Float64Array.from({ length: 33 }, (_, i) => 3 * 200 ** (i / 32))

/** Every flow with every conductance and every share of the drive's heat: how likely each is by fits and heat balance. */
function weighed(
  { timeS, stepS, offsetC }: CoolantSeries,
  fits: readonly Response[],
  least: number,
  balance: Float64Array,
): { readonly ofFlow: Float64Array; readonly ofConductance: Float64Array } {
  const n = timeS.length
  // a reading's own step bounds how well a residual can be known
  const variance = Math.max(least / n, 0.03 ** 2)
  const effective = Math.max(4, (n * stepS) / TOGETHER_S)
  const most = Math.max(...balance)
  const ofFlow = new Float64Array(FLOWS.length)
  const ofConductance = new Float64Array(CONDUCTANCES.length)
  for (const { fit } of fits) {
    const likelihood = responseLikelihood(fit, variance, effective, n, offsetC / 1.96, least)
    if (!likelihood) continue
    FLOWS.forEach((flow, at) => {
      const watts = (flow / 60) * HEAT_PER_LITRE
      CONDUCTANCES.forEach((ua, j) => {
        if (!(balance[j]! > 1e-9 * most)) return
        const inside = LOSS_SHARES.reduce((sum, share) => sum + likelihood(ua / watts, share / watts), 0)
        const weight = balance[j]! * (0.5 * likelihood(ua / watts, 0) + (0.5 * inside) / LOSS_SHARES.length)
        ofFlow[at]! += weight
        ofConductance[j]! += weight
      })
    })
  }
  return { ofFlow, ofConductance }
}

interface Response {
  /** Electrical power, lagged, W. */
  readonly drive: Float64Array
  /** Warming on the modules' excess, the drive's power and a constant. */
  readonly fit: LineFit
}

/** How the warming follows modules and drive, a fit for each lag of the drive's heat. */
function responses({ aboveC, powerW, timeS, warmedC }: CoolantSeries): Response[] {
  const one = new Float64Array(timeS.length).fill(1)
  return DRIVE_LAGS_S.flatMap((lagS) => {
    const drive = lagged(powerW, timeS, lagS)
    const fit = leastSquares([aboveC!, drive, one], warmedC)
    return fit ? [{ drive, fit }] : []
  })
}

/** Quarters of a spread to either side by which the cells' store is tried. */
const STORE_STEPS = 8
/** A car's plates carry so much, W/K, and by what factor more or less: 20 to 200, wider tails allowed; no source. */
const USUAL_CONDUCTANCE = { wattsPerKelvin: 60, factor: 3.5 }

/** How likely each conductance is by the heat that the cells made and kept. */
function heatBalance(
  { cellW, moduleRiseC, timeS }: CoolantSeries,
  store: { readonly joulePerKelvin: number; readonly factor: number },
  above: number,
  conductances: Float64Array,
): Float64Array {
  const made = mean(cellW)
  const spanS = timeS[timeS.length - 1]! - timeS[0]!
  return conductances.map((ua) => {
    let sum = 0
    for (let step = -STORE_STEPS; step <= STORE_STEPS; step++) {
      const off = step / 4
      const kept = (store.joulePerKelvin * store.factor ** off * moduleRiseC) / spanS
      const wrong = (ua * above - (made - kept)) / (HEAT_MADE_SHARE * made)
      sum += Math.exp(-0.5 * (off * off + wrong * wrong))
    }
    const usual = Math.log(ua / USUAL_CONDUCTANCE.wattsPerKelvin) / Math.log(USUAL_CONDUCTANCE.factor)
    return sum * Math.exp(-0.5 * usual * usual)
  })
}

/**
 * How well the data bear with two given responses (of cells and of the drive), the sensors' offset being free within
 * its spread: a normal in both with the fit's covariance; null where the fit's columns hardly differ.
 */
function responseLikelihood(
  fit: LineFit,
  variance: number,
  effective: number,
  rows: number,
  offsetSpread: number,
  leastSquaresOfAll: number,
): ((cell: number, drive: number) => number) | null {
  const scale = variance * (rows / effective)
  const c = fit.unscaledCovariance
  // the offset's prior, folded in: precision of all three, then the offset integrated out
  const precision = invertSymmetric(
    c.map((value) => value * scale),
    3,
  )
  if (!precision) return null
  precision[8]! += 1 / offsetSpread ** 2
  const cov = invertSymmetric(precision, 3)
  if (!cov) return null
  const b = fit.coefficients
  // mean moves by the prior's pull of the offset towards zero
  const pull = -b[2]! / offsetSpread ** 2
  const mean0 = b[0]! + cov[2]! * pull
  const mean1 = b[1]! + cov[5]! * pull
  const determinant = cov[0]! * cov[4]! - cov[1]! * cov[3]!
  const worse =
    (effective * (fit.sumOfSquares - leastSquaresOfAll)) / (2 * Math.max(leastSquaresOfAll, rows * 0.03 ** 2))
  const offsetOff = (b[2]! * b[2]!) / (offsetSpread ** 2 + c[8]! * scale)
  const base = -worse - offsetOff / 2
  return (cell, drive) => {
    const x = cell - mean0
    const y = drive - mean1
    const square = (x * x * cov[4]! - 2 * x * y * cov[1]! + y * y * cov[0]!) / determinant
    return Math.exp(base - square / 2)
  }
}

/** The value below which the share of the weights lies. */
function weightedQuantile(values: Float64Array, weights: Float64Array, share: number): number {
  const total = weights.reduce((sum, value) => sum + value, 0)
  let sum = 0
  for (let i = 0; i < values.length; i++) {
    sum += weights[i]! / total
    if (sum >= share) return values[i]!
  }
  return values[values.length - 1]!
}

/** J/K of all cells: from how the modules warmed, else from the pack's energy; null where neither is known. */
function heatStore(facts: Facts, ohm: number): { joulePerKelvin: number; factor: number } | null {
  const warming = facts.once(thermalFit)?.modules.find((module) => module.warming > 0)?.warming
  if (warming) return { joulePerKelvin: ohm / warming, factor: STORE_FACTOR.fromWarming }
  const pack = facts.vehicle.pack
  const cells = facts.layout.cells
  if (!pack?.capacity_ah || cells === 0) return null
  const chemistry = (pack.chemistry ?? '').toLowerCase()
  const limits = CHEMISTRY[chemistry]
  const volts = limits ? (limits.minV + 2 * limits.maxV) / 3 : 3.7
  const each = chemistry === 'lfp' ? JOULE_KELVIN_WH.lfp : JOULE_KELVIN_WH.other
  return { joulePerKelvin: cells * pack.capacity_ah * volts * each, factor: STORE_FACTOR.fromEnergy }
}

/** First-order lag of a series; starts settled at zero. */
export function lagged(values: Float64Array, timeS: Float64Array, lagS: number): Float64Array {
  let state = 0
  let last = timeS[0] ?? 0
  return values.map((value, i) => {
    state += (value - state) * (1 - Math.exp(-Math.max(0.5, timeS[i]! - last) / lagS))
    last = timeS[i]!
    return state
  })
}
