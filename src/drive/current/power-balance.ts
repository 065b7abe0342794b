import type { Channel } from '../../../shared/drive.ts'
import { binMeans } from '../../math/bin-means.ts'
import { correlation } from '../../math/correlation.ts'
import { median, quantile } from '../../math/stats.ts'
import { freshSamples } from '../../samples/fresh-samples.ts'
import { heardTime } from '../../samples/heard-time.ts'
import { type Samples, samplePeriod } from '../../samples/on-one-clock.ts'
import { sumOfCells } from '../../samples/sum-of-cells.ts'

/** Voltage and current of two boxes are read so many steps apart at most; no source. */
const MOST_STEPS_LATE = 3
/** Fewer pairs give no correlation; no source. */
const FEWEST_PAIRS = 10
/** The motor gave less than a kilowatt: it never drove; no source. */
const DRIVES_W = 1000
/** Fewer ratios give no usual one; no source. */
const FEWEST_RATIOS = 5

type Channels = ReadonlyMap<string, Channel>

/** Everything that can witness a current's sign, in equal bins of the time in which something was logged. NaN where not. */
export interface Bins {
  readonly stepS: number
  readonly count: number
  /** Pack voltage or its best stand-in, V; the level may be off, its movement is not. */
  readonly volts: Float64Array
  readonly voltsFrom: string | null
  /** Mechanical power, W, positive when driving: torque · 2π · motor speed / 60. */
  readonly mechanicalW: Float64Array
  readonly hasMechanical: boolean
  /** A mean a bin. */
  means(samples: { readonly timeS: Float64Array; readonly values: ArrayLike<number> }): Float64Array
  /** Drive time in bins, fractions kept. */
  placeOf(timeS: number): number
  /** Drive time at which a bin begins. */
  startOf(bin: number): number
}

const STAND_INS = ['pack_voltage', 'mean_cell_voltage', 'lowest_cell_voltage', 'link_voltage'] as const

/** Puts voltage and mechanical power into bins of at least 0.2 s, wider where the slower of them needs it. */
export function binWitnesses(channels: Channels, current: Channel, durationS: number): Bins {
  const fresh = (id: string): Samples | null => {
    const channel = channels.get(id)
    return channel && channel.timeS.length > 0 ? freshSamples(channel) : null
  }
  const cells = channels.has('pack_voltage') ? null : sumOfCells(channels)
  const standInId = cells ? undefined : STAND_INS.find((id) => channels.has(id))
  const source: Samples | null = cells
    ? { timeS: cells.timeS, values: cells.volts }
    : standInId
      ? fresh(standInId)
      : null
  const torque = fresh('torque') ?? fresh('torque_request')
  const rpm = fresh('motor_speed')
  const periods = [freshSamples(current), source, torque, rpm].map((each) =>
    each ? samplePeriod(each.timeS) : 0,
  )
  const stepS = Math.max(0.2, ...periods.map((period) => (Number.isFinite(period) ? period * 1.01 : 0)))
  const heard = heardTime(channels, durationS)
  const count = Math.max(1, Math.ceil(heard.lengthS / stepS))
  const means: Bins['means'] = ({ timeS, values }) => binMeans(heard.heardAll(timeS), values, stepS, count)
  const nothing = new Float64Array(count).fill(Number.NaN)
  const volts = source ? means(source) : nothing
  const hasMechanical = torque !== null && rpm !== null
  let mechanicalW = nothing
  if (torque && rpm) {
    const pull = means(torque)
    const turn = means(rpm)
    mechanicalW = pull.map((nm, i) => (nm * turn[i]! * 2 * Math.PI) / 60)
  }
  return {
    stepS,
    count,
    volts,
    voltsFrom: cells ? 'the sum of the cells' : (standInId ?? null),
    mechanicalW,
    hasMechanical,
    means,
    placeOf: (timeS) => heard.heard(timeS) / stepS,
    startOf: (bin) => heard.drive(bin * stepS),
  }
}

/** Score (see `weighCurrent`) at which a sign counts as proved; chance alone reaches it about once in 10⁹. */
export const PROVED = 6

/** How clearly a current agrees (positive) or disagrees (negative) with the car's physics, discharge positive. */
export interface Witness {
  /** Sum of both in standard deviations of a current that has nothing to do with the car. */
  readonly score: number
  /** Correlation of its steps with voltage steps, sign turned: a loaded pack sags, so positive is right. */
  readonly sag: number
  /** Correlation of V · I with mechanical power. */
  readonly power: number
  /** Pack resistance implied by the sag, Ω; NaN without voltage. */
  readonly ohm: number
}

/**
 * Weighs a current's sign by two laws: ΔV = −R · ΔI (R > 0) over steps of about a second, and V · I against
 * torque · speed. Steps are clipped at their 99th percentile so that one glitch decides nothing; the voltage may lag or
 * lead by up to three bins (other box, scan). Independent samples are counted one per second for steps and one per
 * three seconds for power.
 * @param amperes one mean per bin
 * @param from first bin, inclusive
 * @param to last bin, exclusive
 */
export function weighCurrent(
  bins: Pick<Bins, 'stepS' | 'count' | 'volts' | 'mechanicalW'>,
  amperes: Float64Array,
  from = 0,
  to = bins.count,
): Witness {
  const reach = Math.max(1, Math.round(1 / bins.stepS))
  const dI = steps(amperes.subarray(from, to), reach)
  let sag = 0
  let ohm = Number.NaN
  for (let lag = -3; lag <= MOST_STEPS_LATE; lag++) {
    const dV = steps(shifted(bins.volts, lag, from, to), reach)
    const { r, slope, pairs } = correlation(dI, dV)
    if (pairs >= FEWEST_PAIRS && Math.abs(r) > Math.abs(sag)) {
      sag = -r
      ohm = -slope
    }
  }
  const stepsSeen = countFinite(dI) / reach
  const volts = bins.volts.subarray(from, to)
  const electrical = amperes
    .subarray(from, to)
    .map((value, i) => value * (Number.isNaN(volts[i]!) ? 1 : volts[i]!))
  const power = correlation(electrical, bins.mechanicalW.subarray(from, to))
  const powerR = power.pairs >= FEWEST_PAIRS && Number.isFinite(power.r) ? power.r : 0
  const score = sag * Math.sqrt(stepsSeen) + powerR * Math.sqrt((power.pairs * bins.stepS) / 3)
  return { score: Number.isFinite(score) ? score : 0, sag, power: powerR, ohm }
}

function steps(values: Float64Array, reach: number): Float64Array {
  const out = values.map((value, i) => (i < reach ? Number.NaN : value - values[i - reach]!))
  const clip = quantile(
    out.map((value) => Math.abs(value)),
    0.99,
  )
  return out.map((value) => Math.max(-clip, Math.min(clip, value)))
}

/** Only the window is touched: a log of days has thousands of them. */
function shifted(values: Float64Array, by: number, from: number, to: number): Float64Array {
  return values.subarray(from, to).map((_, i) => values[from + i + by] ?? Number.NaN)
}

function countFinite(values: Float64Array): number {
  let count = 0
  for (const value of values) if (Number.isFinite(value)) count++
  return count
}

/**
 * Electrical over mechanical power while pulling hard: the median of V · I / P over bins with P above 30 % of the
 * 98th percentile. About 1.05 to 1.4 for a battery current of a car; null under five bins.
 */
export function pullingRatio(bins: Bins, amperes: Float64Array): number | null {
  const high = quantile(bins.mechanicalW, 0.98)
  if (!(high > DRIVES_W)) return null
  const ratios: number[] = []
  for (let i = 0; i < bins.count; i++)
    if (bins.mechanicalW[i]! > 0.3 * high) {
      const ratio = (amperes[i]! * bins.volts[i]!) / bins.mechanicalW[i]!
      if (Number.isFinite(ratio)) ratios.push(ratio)
    }
  return ratios.length < FEWEST_RATIOS ? null : median(ratios)
}
