import type { Facts } from '../../facts/facts.ts'
import { type ExponentialFit, fitExponential } from '../../math/exponential.ts'
import { median, robustSpread } from '../../math/stats.ts'
import { loadOhm, resistorFromTau, resistorHeatJ, resistorHeatWithLoadJ } from './precharge-physics.ts'
import { voltages } from './precharge-voltages.ts'
import { clockSkewS, type PrechargeWindow, prechargeWindow } from './precharge-window.ts'
import { type Sequence, sequences } from './start-sequences.ts'
import { samplesIn } from './start-signals.ts'

/** An estimate with its 95 % interval; `high` is +Infinity where nothing bounds it. */
export interface Estimate {
  readonly value: number
  readonly low: number
  readonly high: number
}

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

/** A resistor is built to this tolerance, 95 %. Common practice, no source. */
const RESISTOR_TOLERANCE = 0.05
const NEEDED_IN_RISE = 5
/** Where the vehicle file has none. Common practice, no source. */
const USUAL_RESISTOR_OHM = 150

/** Every precharge that the log shows, one a sequence; those of which nothing but the duration is seen included. */
export function prechargeRuns(facts: Facts): PrechargeRun[] {
  return facts
    .once(sequences)
    .map((sequence) => runOf(facts, sequence))
    .filter((run) => run !== null)
}

function runOf(facts: Facts, sequence: Sequence): PrechargeRun | null {
  const window = prechargeWindow(facts, sequence)
  if (!window) return null
  const { startS, endS, surelyS, closing, seenBy } = window
  const volts = facts.once(voltages)
  const packV = volts.packV(startS - 1, endS + 0.5)
  const link = facts.drive.channels.get('link_voltage')
  const scale = 1 / volts.linkRatio
  const base = {
    sequence,
    startS,
    endS,
    surelyS,
    closing,
    seenBy,
    packV,
    fit: null,
    tau: null,
    load: null,
    steadyA: null,
    shorted: false,
    heatJ: null,
  }
  const before = samplesIn(link, startS - 3, startS - 1e-9).values
  const beforeV = (before.at(-1) ?? Number.NaN) * scale
  const samples = samplesIn(link, startS + 1e-6, endS)
  if (samples.timeS.length === 0 || !(packV > 20))
    return {
      ...base,
      beforeV,
      topV: Number.NaN,
      samplesInRise: 0,
      assessedFrom: 'duration',
      reached: null,
      bound: 'exact',
      levelled: false,
    }
  const v = samples.values.map((value) => value * scale)
  const t = samples.timeS
  const topV = v.reduce((a, b) => Math.max(a, b))
  const startV = Number.isFinite(beforeV) ? beforeV : Math.min(v[0]!, 0.2 * packV)
  const noise = Math.min(linkNoise(v), 0.01 * packV)
  const riseEnd = startV + 0.97 * (topV - startV)
  const first = v.findIndex((value) => value > startV + Math.max(0.02 * packV, 3 * noise))
  const lastRise = v.findIndex((value) => value >= riseEnd)
  const samplesInRise = first < 0 ? 0 : lastRise - first + 1
  const rose = topV - startV > Math.max(0.05 * packV, 4 * noise)
  const tail = v.slice(-Math.max(2, Math.floor(v.length / 4)))
  const tailS = t.slice(-tail.length)
  const sensor = volts.linkRatioPlusMinus
  const from = Math.max(0, first)
  const fitted =
    rose && samplesInRise >= NEEDED_IN_RISE
      ? fitExponential(
          t.slice(from).map((at) => at - t[from]!),
          v.slice(from),
        )
      : null
  const fit = fitted && believable(fitted, packV) ? fitted : null
  const tailMove = Math.abs(
    median(tail.slice(-Math.ceil(tail.length / 2))) - median(tail.slice(0, Math.ceil(tail.length / 2))),
  )
  const levelled = fit
    ? endS - t[from]! > 4 * fit.tau
    : tail.length >= 2 &&
      tailMove < Math.max(0.006 * packV, 3 * noise) &&
      tailS[0]! >= surelyS &&
      tailS[tailS.length - 1]! - surelyS > expectedTau(facts, 0.25) * 2
  const percent = (value: number, plusMinus: number): Estimate => {
    const share = (value / packV) * 100
    const half = Math.hypot((plusMinus / packV) * 100, share * sensor)
    return { value: share, low: share - half, high: share + half }
  }
  let reached: Estimate
  let bound: PrechargeRun['bound'] = 'exact'
  if (fit) {
    const at = (moment: number): number =>
      fit.plateau + fit.amplitude * Math.exp(-(moment - t[from]!) / fit.tau)
    const earliest = closing ? Math.max(closing.earliestS, t[from]!) : endS
    const low = at(earliest)
    const high = at(closing ? closing.atS + clockSkewS(facts, closing) : endS)
    const middle = Math.min((low + high) / 2, 1.02 * packV)
    reached = percent(
      middle,
      (high - low) / 2 + 2 * fit.plateauError + (2 * fit.residualSpread) / Math.sqrt(v.length),
    )
  } else {
    const end = levelled ? median(tail) : v.at(-1)!
    reached = percent(end, 2 * noise)
    const surelyOn = t.at(-1)! - surelyS > 0.1
    if (!levelled && (rose || closing || !surelyOn)) bound = 'at-least'
  }
  const tau = fit
    ? { value: fit.tau, low: fit.tau - 2 * fit.tauError, high: fit.tau + 2 * fit.tauError }
    : null
  const steady = fit ? percent(fit.plateau, 2 * fit.plateauError) : levelled ? reached : null
  const steadyA = steadyCurrent(facts, startS, endS, levelled || !rose)
  const expectedA = packV / (facts.vehicle.precharge?.resistor_ohm ?? USUAL_RESISTOR_OHM)
  const loads = loadAndHeat(facts, {
    packV,
    startV,
    durationS: endS - startS,
    fit,
    tau,
    steady,
    reached,
    rose,
  })
  return {
    ...base,
    ...loads,
    beforeV,
    topV,
    samplesInRise,
    assessedFrom: fit ? 'curve' : 'end-value',
    reached,
    bound,
    levelled,
    fit,
    tau,
    steadyA,
    shorted: !rose && steadyA !== null && Math.abs(steadyA) > expectedA / 2,
  }
}

/** Sample noise from second differences, which a smooth curve hardly enters. */
function linkNoise(v: readonly number[]): number {
  if (v.length < 6) return 0.5
  const half = v.slice(Math.floor(v.length / 2))
  const second = half.slice(2).map((value, i) => value - 2 * half[i + 1]! + half[i]!)
  return Math.max(0.1, robustSpread(second) / Math.sqrt(6))
}

function believable(fit: ExponentialFit, packV: number): boolean {
  return (
    fit.amplitude < 0 &&
    fit.plateau < 1.3 * packV &&
    fit.plateau > 0 &&
    fit.residualSpread < 0.05 * packV &&
    fit.tauError < 0.5 * fit.tau
  )
}

/** τ of the vehicle file, s, or a usual one. */
export function expectedTau(facts: Facts, usual: number): number {
  const { resistor_ohm: r, link_farad: c } = facts.vehicle.precharge ?? {}
  return r !== undefined && c !== undefined ? r * c : usual
}

function loadAndHeat(
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
    const spread = resistor_ohm !== undefined ? RESISTOR_TOLERANCE : 0.25
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
  const whole = link_farad !== undefined && run.reached.value > 90
  return {
    load,
    heatJ: whole ? resistorHeatJ(link_farad, packV, Math.min(1, run.reached.value / 100)) : null,
  }
}

/** Median pack current in the second half of a run that has levelled, less the current before it, A. */
function steadyCurrent(facts: Facts, startS: number, endS: number, levelled: boolean): number | null {
  if (!levelled) return null
  const current = facts.drive.channels.get('pack_current')
  const now = samplesIn(current, (startS + endS) / 2, endS).values
  const before = samplesIn(current, startS - 2, startS - 0.05).values
  return now.length >= 3 && before.length >= 3 ? median(now) - median(before) : null
}
