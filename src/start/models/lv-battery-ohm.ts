import { contactorState } from '../../car/contactor-state.ts'
import { channel, type Facts } from '../../facts/facts.ts'
import { sampleNoise } from '../../math/sample-noise.ts'
import { insideEach } from '../../math/spans.ts'
import { mean, median, robustSpread } from '../../math/stats.ts'
import { heldAt, samplePeriod } from '../../samples/on-one-clock.ts'

/** Resistance of the 12 V battery and its leads, as its own load steps show it. */
export interface LvBatteryOhm {
  readonly ohm: number
  /** Half of the 95 % interval. */
  readonly plusMinus: number
  readonly steps: number
}

/** A step must change the current by so much, A, and by so many spreads of its reading; no source. */
const LEAST_STEP_A = 2
const SPREADS = 6
/** Samples on each side, the one in between left out: it may hold a part of the step. */
const SIDE = 2
/** The converter gives less than this: the battery alone carries the loads, A. */
const CONVERTER_OFF_A = 1
const FEWEST_STEPS = 3

/**
 * Model: R = |ΔU / ΔI| over load steps while the converter gives nothing: means of two samples before and after each
 * step, the one between left out; median over the steps, interval from their scatter and the readings' own noise.
 * Reads: lv_voltage [V], lv_current [A, either sign], contactors, dcdc_current [A].
 * Biased by: the battery's slower part where samples come slowly (it reads more); leads between battery and reading,
 * which belong to it. Blind: steps while the converter holds the voltage. Source: Ohm's law.
 */
export function lvBatteryOhm(facts: Facts): LvBatteryOhm | null {
  const volts = channel(facts, 'lv_voltage')
  const amps = channel(facts, 'lv_current')
  if (!volts || !amps) return null
  const slow = samplePeriod(volts.timeS) > samplePeriod(amps.timeS) ? volts : amps
  const { timeS } = slow
  const u = heldAt(volts, timeS, 2)
  const i = heldAt(amps, timeS, 2)
  const alone = withoutConverter(facts, timeS)
  const noiseA = Math.max(sampleNoise(amps.values) || 0, amps.step)
  const noiseV = Math.max(sampleNoise(volts.values) || 0, volts.step / 2)
  const found: number[] = []
  const widths: number[] = []
  for (let k = SIDE; k + SIDE < timeS.length; k++) {
    const side = (values: Float64Array, from: number): number => mean(values.subarray(from, from + SIDE))
    if (!alone.subarray(k - SIDE, k + SIDE + 1).every((each) => each === 1)) continue
    const stepA = side(i, k + 1) - side(i, k - SIDE)
    const calm = (from: number): boolean => Math.abs(i[from]! - i[from + 1]!) < 0.2 * Math.abs(stepA)
    if (!(Math.abs(stepA) > Math.max(LEAST_STEP_A, SPREADS * noiseA)) || !calm(k - SIDE) || !calm(k + 1))
      continue
    const stepV = side(u, k + 1) - side(u, k - SIDE)
    found.push(stepV / stepA)
    widths.push(Math.hypot(noiseV / Math.abs(stepA), (stepV / stepA) * (noiseA / stepA)))
    k += SIDE
  }
  if (found.length < FEWEST_STEPS) return null
  const middle = median(found)
  const error = Math.max(1.25 * robustSpread(found), median(widths)) / Math.sqrt(found.length)
  // 2.8: Student's t at three steps is wide; a tenth for the current reading's scale
  const plusMinus = Math.hypot((found.length < 6 ? 2.8 : 2.1) * error, 0.05 * Math.abs(middle))
  return Math.abs(middle) > plusMinus ? { ohm: Math.abs(middle), plusMinus, steps: found.length } : null
}

/** 1 where the battery alone carries the loads. */
function withoutConverter(facts: Facts, timeS: Float64Array): Uint8Array {
  const converter = channel(facts, 'dcdc_current')
  if (converter) {
    const given = heldAt(converter, timeS, 5)
    return Uint8Array.from(given, (amps) => (Math.abs(amps) < CONVERTER_OFF_A ? 1 : 0))
  }
  const state = facts.once(contactorState)
  return insideEach(state.of('open'), timeS)
}
