import type { Channel } from '../../shared/drive.ts'
import type { Span } from '../../shared/units.ts'
import { WORKED_OUT } from '../drive/current/derive-current.ts'
import type { Facts } from '../facts/facts.ts'
import { sampleNoise } from '../math/sample-noise.ts'
import { overlap, spansWhere } from '../math/spans.ts'
import { freshSamples } from '../samples/fresh-samples.ts'
import { heldAt, linearAt } from '../samples/on-one-clock.ts'
import { contactorState } from './contactor-state.ts'
import { findClipping } from './current-clipping.ts'
import { type CurrentZero, learnZero, type ZeroPoint } from './current-zero.ts'

/** The pack's current as analyses may use it. Discharge positive. */
export interface PackCurrent {
  /** Moments of fresh samples, seconds. */
  readonly timeS: Float64Array
  /** A, zero removed; NaN where clipped or not believable. */
  readonly amperes: Float64Array
  /** A removed as the sensor's zero, mean over the drive; 0 where it could not be learned. */
  readonly zeroA: number
  /** 95 %; null where the zero could not be learned. */
  readonly zeroPlusMinusA: number | null
  /** Gain tolerance that enters every interval, percent. */
  readonly gainPercent: number
  /** Zero as learned, a point per stretch without current. */
  readonly zeroDrifts: readonly ZeroPoint[]
  readonly zeroFrom: 'contactors-open' | 'key-off' | 'nothing'
  /** A removed at a moment. */
  zeroAt(timeS: number): number
  /** Stretches at the end of the sensor's range, ascending. */
  readonly clippedSpans: readonly Span[]
  /** Per sample: 1 at the discharge end of the range, −1 at the charge end, 0 elsewhere. */
  readonly clippedSide: Int8Array
  /** Ends of the range reached, zero removed, A: [charge, discharge]; null where not reached. */
  readonly rangeA: readonly [number | null, number | null]
  /** How far beyond each end the rest of the car puts the current, mean share: [charge, discharge]; null: no telling. */
  readonly clippedExcess: readonly [number | null, number | null]
  /** Spread of single samples around a constant current, A. */
  readonly noiseA: number
  readonly sign: NonNullable<Channel['sign']>
  readonly from: string
}

/** Zero that is taken as possible where no moment shows it, A. Common practice, no source. */
export const UNLEARNED_ZERO_A = 2
const DEFAULT_GAIN_PERCENT = 2
/** Loads that a current worked out from others may miss, as gain. Common practice, no source. */
const WORKED_OUT_PERCENT = 5

/**
 * Model: logged current = true current · (1 + gain) + zero(t), held inside the sensor's range.
 * The zero is learned in every stretch with contactors open (see `learnZero`), without contactors with the key off and
 * the car standing; flat tops become NaN (see `findClipping`). Held repeats are left out.
 * Gives null where no pack current is logged. Blind to gain: its tolerance comes from the vehicle file, default 2 %.
 */
export function packCurrent(facts: Facts): PackCurrent | null {
  const current = facts.drive.channels.get('pack_current')
  if (!current || current.timeS.length === 0) return null
  const { timeS, values } = freshSamples(current)
  const contactors = facts.once(contactorState)
  // some cars charge past their main contactors: a plugged-in car shows no zero while current flows
  const charging = facts.drive.segments.filter((each) => each.type === 'charging').map((each) => each.span_s)
  const open = contactors.of('open').filter((span) => overlap([span], charging).length === 0)
  const off = open.length > 0 ? open : keyOff(facts, timeS)
  const learned = learnZero(timeS, values, off, facts.drive.durationS, current.step)
  const zero = current.sign === 'from-magnitude' ? unsignedZero(learned) : learned
  const noiseA = zero.noiseA > 0 ? zero.noiseA : sampleNoise(values)
  // samples that jitter by more than a step cannot stand still unless they are held
  const restless = noiseA > 0.9 * current.step && current.step > 0
  const clipping = findClipping(timeS, values, powerWitness(facts, timeS), restless)
  const end = (amperes: number | null): number | null => (amperes === null ? null : amperes - zero.zeroA)
  return {
    timeS,
    amperes: values.map((value, i) => (clipping.side[i] !== 0 ? Number.NaN : value - zero.at(timeS[i]!))),
    zeroA: zero.zeroA,
    zeroPlusMinusA: zero.plusMinusA === null ? null : Math.hypot(zero.plusMinusA, unseenLoads(current)),
    gainPercent: Math.max(
      facts.vehicle.pack?.current_gain_percent ?? DEFAULT_GAIN_PERCENT,
      current.from.startsWith(WORKED_OUT) ? WORKED_OUT_PERCENT : 0,
    ),
    zeroDrifts: zero.points,
    zeroFrom: zero.points.length === 0 ? 'nothing' : open.length > 0 ? 'contactors-open' : 'key-off',
    zeroAt: zero.at,
    clippedSpans: clipping.spans,
    clippedSide: clipping.side,
    clippedExcess: [clipping.lowExcess, clipping.highExcess],
    rangeA: [end(clipping.lowA), end(clipping.highA)],
    noiseA,
    sign: current.sign ?? 'unproved',
    from: current.from,
  }
}

/** A magnitude hides which way its zero is off: nothing is removed, and the zero may be that far off either way. */
function unsignedZero(learned: CurrentZero): CurrentZero {
  const far = Math.max(0, ...learned.points.map((point) => Math.abs(point.amperes) + point.plusMinusA))
  return {
    ...learned,
    zeroA: 0,
    plusMinusA: learned.points.length > 0 ? far : null,
    at: () => 0,
  }
}

/** Standing loads that a current worked out from the inverter's leaves out, A. Common practice, no source. */
function unseenLoads(current: Channel): number {
  if (!current.from.startsWith(WORKED_OUT) || current.from.includes('pack_power')) return 0
  return current.from.includes('dcdc_current') ? 0.5 : 2
}

/** Key off, standing, nothing plugged in: most cars then have their contactors open. */
function keyOff(facts: Facts, timeS: Float64Array): Span[] {
  const { channels, segments } = facts.drive
  const key = channels.get('key_on')
  if (!key || key.polarity === null || facts.once(contactorState).of('closed').length > 0) return []
  const on = heldAt(key, timeS)
  const parked = segments.filter((segment) => segment.type === 'parked').map((segment) => segment.span_s)
  return spansWhere(
    timeS,
    (i) => on[i] === 0 && parked.some(([from, to]) => timeS[i]! >= from && timeS[i]! < to),
  )
}

/** Current that mechanical power and pack voltage imply, up to a factor; null where they are not logged. */
function powerWitness(facts: Facts, timeS: Float64Array): Float64Array | null {
  const { channels } = facts.drive
  const torque = channels.get('torque')
  const rpm = channels.get('motor_speed')
  const volts = channels.get('pack_voltage') ?? channels.get('link_voltage')
  if (!torque || !rpm || !volts) return null
  const pull = linearAt(torque, timeS, 2)
  const turn = linearAt(rpm, timeS, 2)
  const level = linearAt(volts, timeS, 5)
  return pull.map((nm, i) => (nm * turn[i]! * 2 * Math.PI) / 60 / level[i]!)
}
