import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { channel, type Facts, unlogged } from '../../facts/facts.ts'
import { median, quantile } from '../../math/stats.ts'
import { heldAt, staleAfter } from '../../samples/on-one-clock.ts'
import { lvBatteryOhm } from '../models/lv-battery-ohm.ts'

const OHM = 'How much resistance does the 12 V battery show in its load steps?'
const DRAIN = 'What is drawn from the 12 V battery with the key off?'
/** Units may stay awake for so long after the key, s; and at least so long must be seen. Common practice, no source. */
const ASLEEP_S = 60

/**
 * Two figures of the 12 V battery: its resistance from load steps, and what is drawn with the key off.
 *
 * Model:  `lvBatteryOhm`; the median of the 12 V current from a minute after the key on.
 * Reads:  lv_current [A, either sign], lv_voltage [V], key_on, contactors, dcdc_current [A].
 * Gives:  figures in the questions' words, no finding: no published limit holds for every battery.
 * Biased by: the current sensor's zero, which a clamp of hundreds of ampere does not hold to tenths (said).
 * Blind:  loads that wake now and then, where the log is shorter than their pause.
 * Source: Ohm's law; usual values: common practice, no source.
 */
export function lvBattery(facts: Facts): Answer {
  return { questions: [resistance(facts), drain(facts)], findings: [] }
}

function resistance(facts: Facts): Answer['questions'][number] {
  const missing = unlogged(facts, ['lv_current', 'lv_voltage'])
  const found = missing.length > 0 ? null : facts.once(lvBatteryOhm)
  if (!found) {
    const why =
      missing.length > 0
        ? '12 V current and voltage are not both in the log'
        : 'fewer than three clear load steps while the converter gave nothing'
    const to =
      missing.length > 0
        ? 'Log the 12 V battery’s current and voltage at 5 Hz or faster.'
        : 'Log on, key on before the start: lamps on and off three times.'
    return notAssessed('energy', OHM, missing, why, to, 'mΩ')
  }
  const { ohm, plusMinus, steps } = found
  const why = `${(1e3 * ohm).toFixed(1)} ± ${(1e3 * plusMinus).toFixed(1)} mΩ with its leads, from ${steps} load steps; a sound lead battery has some 4 to 15 mΩ, a small one 25 mΩ (common practice, no source).`
  return assessed('energy', OHM, false, why, { value: 1e3 * plusMinus, unit: 'mΩ', measured: 1e3 * ohm })
}

function drain(facts: Facts): Answer['questions'][number] {
  const missing = unlogged(facts, ['lv_current', 'key_on'])
  const amps = channel(facts, 'lv_current')
  const key = channel(facts, 'key_on')
  const off = amps && key && key.polarity !== null ? asleep(facts) : null
  if (!off || off.length === 0) {
    const why =
      missing.length > 0
        ? '12 V current or key are not in the log'
        : 'no minute with the key off for over a minute'
    return notAssessed(
      'energy',
      DRAIN,
      missing,
      why,
      'Log the 12 V battery’s current for three minutes after the key is off.',
      'A',
    )
  }
  const middle = Math.abs(median(off))
  const spread = (quantile(off, 0.95) - quantile(off, 0.05)) / 2
  const least = Math.max(amps!.step, 0.05)
  const why = `${middle.toFixed(2)} A, 5 to 95 % of the time within ± ${spread.toFixed(2)} A; the sensor’s own zero is in it. A car asleep draws under 0.05 A (common practice, no source).`
  return assessed('energy', DRAIN, false, why, { value: least, unit: 'A', measured: middle })
}

/** 12 V current from a minute after the key on, where at least a minute is seen. */
function asleep(facts: Facts): Float64Array {
  const amps = channel(facts, 'lv_current')!
  const key = channel(facts, 'key_on')!
  const on = heldAt(key, amps.timeS, staleAfter(key))
  let since = Number.NaN
  const kept: number[] = []
  let seenS = 0
  for (let i = 0; i < on.length; i++) {
    if (on[i] !== 0) since = Number.NaN
    else if (Number.isNaN(since)) since = amps.timeS[i]!
    if (!(amps.timeS[i]! - since > ASLEEP_S) || !Number.isFinite(amps.values[i]!)) continue
    kept.push(amps.values[i]!)
    seenS += Math.min(5, amps.timeS[i]! - amps.timeS[i - 1]!)
  }
  return seenS >= ASLEEP_S ? Float64Array.from(kept) : new Float64Array(0)
}
