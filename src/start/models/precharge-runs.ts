import { LIVE_V } from '../../drive/live-volts.ts'
import type { Facts } from '../../facts/facts.ts'
import type { ExponentialFit } from '../../math/exponential.ts'
import { FEWEST_FOR_MEDIAN } from '../../math/fewest.ts'
import { median } from '../../math/stats.ts'
import { type LinkRise, linkRise, voltsBefore } from './precharge-curve.ts'
import { type Estimate, loadAndHeat } from './precharge-load.ts'
import { voltages } from './precharge-voltages.ts'
import { clockSkewS, type PrechargeWindow, prechargeWindow } from './precharge-window.ts'
import { type Sequence, sequences } from './start-sequences.ts'
import { samplesIn } from './start-signals.ts'

export interface PrechargeRun extends PrechargeWindow {
  readonly sequence: Sequence
  readonly packV: number
  /** Link voltage before the path closed, V. */
  readonly beforeV: number
  /** Highest link voltage of the run, V, in the pack sensor's scale. */
  readonly topV: number
  readonly samplesInRise: number
  readonly assessedFrom: 'curve' | 'end-value' | 'duration'
  /** Share of pack voltage at the closing, or at the end of the run, %. */
  readonly reached: Estimate | null
  /** Exact, or what the samples only bound. */
  readonly bound: 'exact' | 'at-least' | 'at-most'
  /** The link had stopped rising: waiting longer would not have brought it further. */
  readonly levelled: boolean
  readonly fit: ExponentialFit | null
  readonly tau: Estimate | null
  readonly load: Estimate | null
  /** Current that flowed once the link had levelled, A; null where not seen. */
  readonly steadyA: number | null
  /** The link stayed down although half or more of pack voltage ÷ resistor flowed. */
  readonly shorted: boolean
  readonly heatJ: number | null
}

/** Where the vehicle file has none. Common practice, no source. */
const USUAL_RESISTOR_OHM = 150
/** The link reads over the pack by no more than this at the closing: a fit that runs on is held there; no source. */
const MOST_SHARE = 1.02
/** A path surely closed for so long would have raised a sound link; no source. */
const SURELY_S = 0.1

/** Every precharge that the log shows, one a sequence; those of which nothing but the duration is seen included. */
export function prechargeRuns(facts: Facts): PrechargeRun[] {
  return facts
    .once(sequences)
    .map((sequence) => runOf(facts, sequence))
    .filter((run) => run !== null)
}

/** Nothing but how long it took is seen. */
const DURATION_ONLY = {
  topV: Number.NaN,
  samplesInRise: 0,
  assessedFrom: 'duration',
  reached: null,
  bound: 'exact',
  levelled: false,
  fit: null,
  tau: null,
  load: null,
  steadyA: null,
  shorted: false,
  heatJ: null,
} as const

/** One sequence's precharge: when it ran, what the link did meanwhile, and what follows from that. */
function runOf(facts: Facts, sequence: Sequence): PrechargeRun | null {
  const window = prechargeWindow(facts, sequence)
  if (!window) return null
  const packV = facts.once(voltages).packV(window.startS - 1, window.endS + 0.5)
  const beforeV = voltsBefore(facts, window.startS)
  const rise = packV > LIVE_V ? linkRise(facts, window, packV, beforeV) : null
  const seen = { ...window, sequence, packV, beforeV }
  return { ...seen, ...(rise ? judged(facts, window, packV, rise) : DURATION_ONLY) }
}

/** How far the link came, with what time constant, against which load, and what the resistor took. */
function judged(facts: Facts, window: PrechargeWindow, packV: number, rise: LinkRise) {
  const { fit, rose, levelled } = rise
  const { startS, endS, surelyS, closing } = window
  const sensorShare = facts.once(voltages).linkRatioPlusMinus
  const percent = (value: number, plusMinus: number): Estimate => {
    const share = (value / packV) * 100
    const half = Math.hypot((plusMinus / packV) * 100, share * sensorShare)
    return { value: share, low: share - half, high: share + half }
  }
  const reached = fit
    ? percent(...atClosing(facts, window, packV, rise, fit))
    : percent(levelled ? median(rise.tail) : rise.volts.at(-1)!, 2 * rise.noiseV)
  const surelyOn = rise.timeS.at(-1)! - surelyS > SURELY_S
  const mayRiseOn = !fit && !levelled && (rose || closing !== null || !surelyOn)
  const tau = fit
    ? { value: fit.tau, low: fit.tau - 2 * fit.tauError, high: fit.tau + 2 * fit.tauError }
    : null
  const steady = fit ? percent(fit.plateau, 2 * fit.plateauError) : levelled ? reached : null
  const steadyA = steadyCurrent(facts, startS, endS, levelled || !rose)
  const expectedA = packV / (facts.vehicle.precharge?.resistor_ohm ?? USUAL_RESISTOR_OHM)
  return {
    topV: rise.topV,
    samplesInRise: rise.samplesInRise,
    assessedFrom: fit ? 'curve' : 'end-value',
    reached,
    bound: mayRiseOn ? 'at-least' : 'exact',
    levelled,
    fit,
    tau,
    steadyA,
    shorted: !rose && steadyA !== null && Math.abs(steadyA) > expectedA / 2,
    ...loadAndHeat(facts, {
      ...{ packV, startV: rise.startV, durationS: endS - startS },
      ...{ fit, tau, steady, reached, rose },
    }),
  } as const
}

/** Where the fitted curve stands as the second contactor closes (or the run ends), V, and how surely. */
function atClosing(
  facts: Facts,
  { endS, closing }: PrechargeWindow,
  packV: number,
  { volts, fitFromS }: LinkRise,
  fit: ExponentialFit,
): [value: number, plusMinus: number] {
  const at = (moment: number): number =>
    fit.plateau + fit.amplitude * Math.exp(-(moment - fitFromS) / fit.tau)
  const low = at(closing ? Math.max(closing.earliestS, fitFromS) : endS)
  const high = at(closing ? closing.atS + clockSkewS(facts, closing) : endS)
  return [
    Math.min((low + high) / 2, MOST_SHARE * packV),
    (high - low) / 2 + 2 * fit.plateauError + (2 * fit.residualSpread) / Math.sqrt(volts.length),
  ]
}

/** Median pack current in the second half of a run that has levelled, less the current before it, A. */
function steadyCurrent(facts: Facts, startS: number, endS: number, levelled: boolean): number | null {
  if (!levelled) return null
  const current = facts.drive.channels.get('pack_current')
  const now = samplesIn(current, (startS + endS) / 2, endS).values
  const before = samplesIn(current, startS - 2, startS - 0.05).values
  return now.length >= FEWEST_FOR_MEDIAN && before.length >= FEWEST_FOR_MEDIAN
    ? median(now) - median(before)
    : null
}
