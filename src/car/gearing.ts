import type { Channel } from '../../shared/drive.ts'
import type { Span } from '../../shared/units.ts'
import type { Facts } from '../facts/facts.ts'
import { within } from '../math/spans.ts'
import { median } from '../math/stats.ts'
import { freshSamples } from '../samples/fresh-samples.ts'
import { heldAt, linearAt } from '../samples/on-one-clock.ts'
import { gearChannel, outOfGear } from './gear-channel.ts'

/** Slower, the ratio is rounding; no source. */
const LEAST_RPM = 100
/** Fewer readings are no gear; no source. */
const FEWEST_READINGS_IN_GEAR = 10

/** A gearbox with more than one ratio in use. */
export interface Gearing {
  /** Motor speed per road speed of each gear that was driven, rpm per km/h, lowest gear first. */
  readonly ratios: readonly number[]
  readonly from: 'gear channel' | 'motor speed against road speed'
  /** From the last moment surely in one gear to the first in the next, the lift before and the pull after included. */
  readonly changes: readonly Span[]
  /** rpm per km/h of the gear that is in; NaN while it changes or stands in neutral. */
  perKmhAt(atS: ArrayLike<number>): Float64Array
}

/** Slower than this the speed's own steps blur the ratio, km/h. */
const LEAST_KMH = 12
/** A ratio that stays within this share over so long is one gear, not a slipping wheel. Common practice, no source. */
const STEADY_SHARE = 0.04
const STEADY_S = 1
/** Gears of a box stand further apart than this; readings of one gear lie within half of it. */
const APART = 0.12
/** A gear was driven for so long in all, and came twice or stayed for `LONG_S`: a wheel slips shorter. */
const LEAST_S = 5
const LONG_S = 15
/** Torque goes before the ratio leaves its gear, and comes back after it is in, s. */
const BEFORE_S = 0.6
const AFTER_S = 1
/** A change of gear takes less; what lasts longer is coasting or a log that has no gear for it, s. */
const CHANGE_S = 6

/**
 * Does a gearbox change its ratio, and which gear is in when?
 *
 * Model:  motor speed = ratio · road speed, in each gear the median of the ratios that stay put for a second.
 * Reads:  motor_speed [rpm], speed or wheel_speed.* [km/h], a column of gears (kept under its own name) where logged.
 * Gives:  null where one ratio explains the drive, or where one of the two speeds is missing.
 * Blind:  gears closer than 12 %; a gear driven for less than 5 s; road speed worked out from the motor's.
 */
export function gearing(facts: Facts): Gearing | null {
  const { channels } = facts.drive
  const motor = channels.get('motor_speed')
  const road = channels.get('speed') ?? channels.get('wheel_speed.1')
  if (!motor || !road) return null
  const { timeS, values } = freshSamples(road)
  const rpm = linearAt(freshSamples(motor), timeS, 1)
  const log = timeS.map((_, i) =>
    Math.abs(values[i]!) > LEAST_KMH && Math.abs(rpm[i]!) > LEAST_RPM
      ? Math.log(Math.abs(rpm[i]!) / Math.abs(values[i]!))
      : Number.NaN,
  )
  const steady = steadySamples(timeS, log)
  const shown = gearChannel(facts)
  return (shown && byChannel(shown, timeS, log, steady)) ?? bySpeeds(timeS, log, steady)
}

/** 1 where the ratio holds still from `STEADY_S` / 2 before to as long after. */
function steadySamples(timeS: Float64Array, log: Float64Array): Uint8Array {
  const steady = new Uint8Array(timeS.length)
  let from = 0
  let to = 0
  for (let i = 0; i < timeS.length; i++) {
    while (timeS[from]! < timeS[i]! - STEADY_S / 2) from++
    while (to + 1 < timeS.length && timeS[to + 1]! <= timeS[i]! + STEADY_S / 2) to++
    let low = Number.POSITIVE_INFINITY
    let high = Number.NEGATIVE_INFINITY
    let whole = to > from
    for (let k = from; k <= to && whole; k++) {
      if (Number.isNaN(log[k]!)) whole = false
      if (log[k]! < low) low = log[k]!
      if (log[k]! > high) high = log[k]!
    }
    steady[i] = whole && high - low < STEADY_SHARE ? 1 : 0
  }
  return steady
}

function bySpeeds(timeS: Float64Array, log: Float64Array, steady: Uint8Array): Gearing | null {
  const gears = gearsSeen(timeS, log, steady)
  if (gears.length < 2) return null
  const gearOf = (i: number): number =>
    steady[i] === 1 ? gears.findIndex((each) => Math.abs(log[i]! - each) < APART / 2) : -1
  const at: number[] = []
  const gear: number[] = []
  for (let i = 0; i < timeS.length; i++)
    if (gearOf(i) >= 0) {
      at.push(timeS[i]!)
      gear.push(gearOf(i))
    }
  return {
    ratios: gears.map(Math.exp),
    from: 'motor speed against road speed',
    ...followed(at, gear, gears.map(Math.exp)),
  }
}

/** Where the steady ratios gather, natural logarithms, highest ratio (lowest gear) first. */
function gearsSeen(timeS: Float64Array, log: Float64Array, steady: Uint8Array): number[] {
  let left = Array.from(timeS.keys()).filter((i) => steady[i] === 1)
  const found: number[] = []
  while (left.length > FEWEST_READINGS_IN_GEAR) {
    const bins = new Map<number, number[]>()
    for (const i of left) {
      const bin = Math.round(log[i]! / (APART / 6))
      const own = bins.get(bin)
      if (own) own.push(i)
      else bins.set(bin, [i])
    }
    let most: number[] = []
    for (const own of bins.values()) if (own.length > most.length) most = own
    const near = median(most.map((i) => log[i]!))
    const own = left.filter((i) => Math.abs(log[i]! - near) < APART / 2)
    const centre = median(own.map((i) => log[i]!))
    if (lasts(timeS, own) && found.every((each) => Math.abs(each - centre) > APART)) found.push(centre)
    left = left.filter((i) => Math.abs(log[i]! - near) >= APART / 2)
  }
  return found.sort((a, b) => b - a)
}

/** Long enough in all, in two stretches or a long one. */
function lasts(timeS: Float64Array, samples: readonly number[]): boolean {
  let total = 0
  let stretches = 1
  for (let k = 1; k < samples.length; k++) {
    const step = timeS[samples[k]!]! - timeS[samples[k - 1]!]!
    if (step > 2 * STEADY_S) stretches++
    else total += step
  }
  return total > LEAST_S && (stretches > 1 || total > LONG_S)
}

function byChannel(
  shown: Channel,
  timeS: Float64Array,
  log: Float64Array,
  steady: Uint8Array,
): Gearing | null {
  const held = heldAt(shown, timeS)
  const logs = new Map<number, number[]>()
  for (let i = 0; i < timeS.length; i++) {
    if (steady[i] !== 1 || !(held[i]! > 0)) continue
    const own = logs.get(held[i]!)
    if (own) own.push(log[i]!)
    else logs.set(held[i]!, [log[i]!])
  }
  const known = [...logs].filter(([, each]) => each.length > FEWEST_READINGS_IN_GEAR)
  const ratio = new Map(known.map(([gear, each]) => [gear, Math.exp(median(each))]))
  const ratios = [...ratio.values()].sort((a, b) => b - a)
  // a lever's positions, not gears: the ratio stays
  if (ratios.length < 2 || ratios[0]! / ratios[1]! < 1 + APART / 3) return null
  const numbers = [...ratio.keys()]
  const at: number[] = []
  const gear: number[] = []
  for (let i = 0; i < timeS.length; i++) {
    const own = numbers.indexOf(held[i]!)
    // in a gear the ratio is this gear's, whatever the channel says early or late; a slipping wheel is off it
    if (own < 0 || (steady[i] === 1 && Math.abs(log[i]! - Math.log(ratio.get(held[i]!)!)) > APART / 2))
      continue
    at.push(timeS[i]!)
    gear.push(own)
  }
  const neutral = outOfGear(shown)
  const own = followed(at, gear, [...ratio.values()])
  const changes = [...own.changes, ...neutral.map(([a, b]): Span => [a - BEFORE_S, b + AFTER_S])]
  return {
    ratios,
    from: 'gear channel',
    changes,
    perKmhAt: (when) => outside(own.perKmhAt(when), when, changes),
  }
}

/** The gear between the moments at which it is known, and the spans in which it changes. */
function followed(
  at: readonly number[],
  gear: readonly number[],
  ratios: readonly number[],
): Pick<Gearing, 'changes' | 'perKmhAt'> {
  const changes: Span[] = []
  for (let k = 1; k < at.length; k++)
    if (gear[k] !== gear[k - 1] && at[k]! - at[k - 1]! < CHANGE_S)
      changes.push([at[k - 1]! - BEFORE_S, at[k]! + AFTER_S])
  const known = { timeS: Float64Array.from(at), values: Float64Array.from(gear, (each) => ratios[each]!) }
  const first = known.values[0] ?? Number.NaN
  return {
    changes,
    perKmhAt: (when) =>
      outside(
        heldAt(known, when).map((each) => (Number.isNaN(each) ? first : each)),
        when,
        changes,
      ),
  }
}

function outside(values: Float64Array, atS: ArrayLike<number>, spans: readonly Span[]): Float64Array {
  return values.map((each, i) => (within(spans, atS[i]!) ? Number.NaN : each))
}
