import type { Facts } from '../../facts/facts.ts'
import { type ExponentialFit, fitExponential } from '../../math/exponential.ts'
import { median, robustSpread } from '../../math/stats.ts'
import { voltages } from './precharge-voltages.ts'
import type { PrechargeWindow } from './precharge-window.ts'
import { samplesIn } from './start-signals.ts'

/**
 * What the link voltage did while the precharge path was closed, V in the pack sensor's scale.
 *
 *     topV    ┄┄┄┄┄┄┄┄┄┄╭──────   the tail, its last quarter: level, or still rising
 *                    ╭──╯
 *                  ╭─╯            the rise: from out of the noise to 97 % of the way
 *     startV  ─────╯
 */
export interface LinkRise {
  readonly timeS: Float64Array
  readonly volts: Float64Array
  readonly startV: number
  readonly topV: number
  readonly noiseV: number
  /** It came up by more than noise. */
  readonly rose: boolean
  readonly samplesInRise: number
  /** Its last quarter, two samples at least. */
  readonly tail: Float64Array
  /** It had stopped rising: waiting longer would not have brought it further. */
  readonly levelled: boolean
  /** The exponential, and the moment its amplitude belongs to; null where no sound one fits. */
  readonly fit: ExponentialFit | null
  readonly fitFromS: number
}

const NEEDED_IN_RISE = 5
/** With fewer samples the noise is taken for a link sensor's usual one; no source. */
const FEWEST_FOR_NOISE = 6
const UNKNOWN_NOISE_V = 0.5
/** So many time constants after its begin a curve is level (98 %). */
const LEVEL_TAUS = 4

/** Link voltage just before the path closed, V in the pack sensor's scale; NaN where nothing was read for 3 s. */
export function voltsBefore(facts: Facts, startS: number): number {
  const before = samplesIn(facts.drive.channels.get('link_voltage'), startS - 3, startS - 1e-9).values
  return (before.at(-1) ?? Number.NaN) * (1 / facts.once(voltages).linkRatio)
}

/** @returns null where the link was not read meanwhile */
export function linkRise(
  facts: Facts,
  { startS, endS, surelyS }: PrechargeWindow,
  packV: number,
  beforeV: number,
): LinkRise | null {
  const { timeS, values } = samplesIn(facts.drive.channels.get('link_voltage'), startS + 1e-6, endS)
  if (timeS.length === 0) return null
  const scale = 1 / facts.once(voltages).linkRatio
  const volts = values.map((value) => value * scale)
  const topV = volts.reduce((a, b) => Math.max(a, b))
  const startV = Number.isFinite(beforeV) ? beforeV : Math.min(volts[0]!, 0.2 * packV)
  const noiseV = Math.min(linkNoise(volts), 0.01 * packV)
  const first = volts.findIndex((value) => value > startV + Math.max(0.02 * packV, 3 * noiseV))
  const last = volts.findIndex((value) => value >= startV + 0.97 * (topV - startV))
  const samplesInRise = first < 0 ? 0 : last - first + 1
  const rose = topV - startV > Math.max(0.05 * packV, 4 * noiseV)
  const from = Math.max(0, first)
  const fitFromS = timeS[from]!
  const fit = rose && samplesInRise >= NEEDED_IN_RISE ? soundFit(timeS, volts, from, packV) : null
  const tail = volts.slice(-Math.max(2, Math.floor(volts.length / 4)))
  const tailFromS = timeS[timeS.length - tail.length]!
  const levelled = fit
    ? endS - fitFromS > LEVEL_TAUS * fit.tau
    : tail.length >= 2 &&
      halvesApart(tail) < Math.max(0.006 * packV, 3 * noiseV) &&
      tailFromS >= surelyS &&
      timeS.at(-1)! - surelyS > expectedTau(facts, 0.25) * 2
  return { timeS, volts, startV, topV, noiseV, rose, samplesInRise, tail, levelled, fit, fitFromS }
}

/** How far the medians of the first and of the second half lie apart. */
function halvesApart(tail: Float64Array): number {
  const half = Math.ceil(tail.length / 2)
  return Math.abs(median(tail.slice(-half)) - median(tail.slice(0, half)))
}

/** Sample noise from second differences, which a smooth curve hardly enters. */
function linkNoise(v: Float64Array): number {
  if (v.length < FEWEST_FOR_NOISE) return UNKNOWN_NOISE_V
  const half = v.slice(Math.floor(v.length / 2))
  const second = half.slice(2).map((value, i) => value - 2 * half[i + 1]! + half[i]!)
  return Math.max(0.1, robustSpread(second) / Math.sqrt(6))
}

/** One exponential through the samples from `from` on; null where what it says cannot be. */
function soundFit(
  timeS: Float64Array,
  volts: Float64Array,
  from: number,
  packV: number,
): ExponentialFit | null {
  const fit = fitExponential(
    timeS.slice(from).map((at) => at - timeS[from]!),
    volts.slice(from),
  )
  const sound =
    fit &&
    fit.amplitude < 0 &&
    fit.plateau < 1.3 * packV &&
    fit.plateau > 0 &&
    fit.residualSpread < 0.05 * packV &&
    fit.tauError < 0.5 * fit.tau
  return sound ? fit : null
}

/** τ of the vehicle file, s, or a usual one. */
export function expectedTau(facts: Facts, usual: number): number {
  const { resistor_ohm: r, link_farad: c } = facts.vehicle.precharge ?? {}
  return r !== undefined && c !== undefined ? r * c : usual
}
