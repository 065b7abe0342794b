import type { ChannelId } from '../../../shared/channels.ts'
import { contactorState } from '../../car/contactor-state.ts'
import { packCurrent, UNLEARNED_ZERO_A } from '../../car/pack-current.ts'
import { type PackPower, packPower } from '../../car/pack-power.ts'
import { movingAt } from '../../drive/motion.ts'
import { channel, type Facts } from '../../facts/facts.ts'
import { insideEach } from '../../math/spans.ts'
import { splitIntegral } from '../../math/split-integral.ts'
import { median, robustSpread } from '../../math/stats.ts'
import { heldAt, linearAt } from '../../samples/on-one-clock.ts'

/** What the pack gives that traction does not take. */
export interface OtherLoads {
  /** Power with contactors closed, the car standing and no torque, W; half of its 95 % interval; seconds of it. */
  readonly standingW: number
  readonly plusMinusW: number
  readonly standingS: number
  /** Loads with a meter of their own: W while standing, and share of the energy out of the pack over the drive. */
  readonly metered: readonly { readonly name: string; readonly standingW: number; readonly share: number }[]
  /** What no meter explains while standing, W, and its share if it went on all the time. */
  readonly restW: number
  readonly restShare: number
  /** Switches that step the pack's power while the car stands: W a switching on, and half of the 95 % interval. */
  readonly switched: readonly {
    readonly name: string
    readonly watts: number
    readonly plusMinusW: number
    readonly times: number
  }[]
}

/** More torque than this moves or holds the car, N·m; no source. */
const IDLE_NM = 2
const LEAST_S = 5
/** A converter takes so many times what it gives. Common practice, no source. */
const CONVERTER_TAKES = 1.1
const GAP_S = 5
/** On either side of a switching, s; so many of them, so far beyond their scatter; no source. */
const SIDE_S = 3
const FEWEST_STEPS = 2
const SURE = 3
/** Residuals of a current hang together for about so long, s. */
const TOGETHER_S = 1

const SWITCHES: readonly (readonly [id: ChannelId, name: string, on: number])[] = [
  ['coolant_pump', 'coolant pump', 0.5],
  ['pump_duty', 'coolant pump', 10],
  ['fan_duty', 'fan', 10],
  ['heater_request', 'cabin heater', 0.5],
  ['cooler_request', 'cabin cooler', 0.5],
]

/**
 * Model: P = V · I with contactors closed, the car standing, no torque and nothing plugged in (median); less what heater,
 * cooler and converter read at those moments; steps of P at switches in that time (median over them).
 * Biased by: the current's zero times the voltage (in the interval); a converter's own losses (10 % taken).
 * Gives null without power, motion, or five such seconds. Blind: loads that run only while driving.
 */
export function otherLoads(facts: Facts): OtherLoads | null {
  const power = facts.once(packPower)
  const current = facts.once(packCurrent)
  if (!power || !current) return null
  const { timeS, watts, volts } = power
  const quiet = quietAt(facts, timeS)
  const at = (values: Float64Array): Float64Array =>
    values.filter((value, i) => quiet[i] === 1 && Number.isFinite(value))
  const standing = at(watts)
  const periodS = median(timeS.slice(1, 2000).map((t, i) => t - timeS[i]!))
  const standingS = standing.length * periodS
  if (!(standingS >= LEAST_S)) return null
  const closed = insideEach(facts.once(contactorState).of('closed'), timeS)
  const outWs = splitIntegral(timeS, watts, GAP_S).above
  const standingW = median(standing)
  // what flows into a standing pack is a charge that nobody marked as one
  if (!(outWs > 0) || standingW < 0) return null
  const metered = meters(facts, power).map(({ name, watts: own }) => ({
    name,
    standingW: median(at(own)),
    share:
      splitIntegral(
        timeS,
        own.map((each, i) => (closed[i] === 1 ? each : 0)),
        GAP_S,
      ).above / outWs,
  }))
  const restW = standingW - metered.reduce((sum, each) => sum + (each.standingW || 0), 0)
  const closedS = closed.reduce((sum, each) => sum + each, 0) * periodS
  const scatter = (1.25 * robustSpread(standing)) / Math.sqrt(Math.max(1, standingS / TOGETHER_S))
  return {
    standingW,
    plusMinusW: Math.hypot(
      (current.zeroPlusMinusA ?? UNLEARNED_ZERO_A) * median(volts),
      (current.gainPercent / 100) * standingW,
      1.96 * scatter,
    ),
    standingS,
    metered,
    restW,
    restShare: (Math.max(0, restW) * closedS) / outWs,
    switched: SWITCHES.flatMap(([id, name, on]) => steps(facts, power, quiet, id, name, on)),
  }
}

/** 1 where the contactors are closed, the car stands, the motor gives nothing and nothing is plugged in. */
function quietAt(facts: Facts, timeS: Float64Array): Uint8Array {
  const moving = movingAt(facts.drive.channels, timeS)
  const closed = insideEach(facts.once(contactorState).of('closed'), timeS)
  const charging = facts.drive.segments.filter(({ type }) => type === 'charging').map(({ span_s }) => span_s)
  const plugged = insideEach(charging, timeS)
  const plug = channel(facts, 'charge_plug')
  const plugIn = plug && plug.polarity !== null ? heldAt(plug, timeS) : null
  const torque = channel(facts, 'torque') ?? channel(facts, 'torque_request')
  const nm = torque ? linearAt(torque, timeS, 2) : null
  return Uint8Array.from(timeS, (_, i) =>
    moving[i] === 0 &&
    closed[i] === 1 &&
    plugged[i] === 0 &&
    plugIn?.[i] !== 1 &&
    !(nm && Math.abs(nm[i]!) > IDLE_NM)
      ? 1
      : 0,
  )
}

function meters(facts: Facts, { timeS, volts }: PackPower): { name: string; watts: Float64Array }[] {
  const read = (id: ChannelId): Float64Array | null => {
    const found = channel(facts, id)
    return found ? linearAt(found, timeS, GAP_S) : null
  }
  const heater = read('heater_power') ?? read('heater_current')?.map((amps, i) => amps * volts[i]!)
  const cooler = read('cooler_power')
  const converter = read('dcdc_current')
  const lv = read('lv_voltage')
  return [
    ...(heater ? [{ name: 'cabin heater', watts: heater }] : []),
    ...(cooler ? [{ name: 'cabin cooler', watts: cooler }] : []),
    ...(converter && lv
      ? [
          {
            name: '12 V converter',
            watts: converter.map((amps, i) => CONVERTER_TAKES * Math.abs(amps) * lv[i]!),
          },
        ]
      : []),
  ]
}

function steps(
  facts: Facts,
  { timeS, watts }: PackPower,
  quiet: Uint8Array,
  id: ChannelId,
  name: string,
  onFrom: number,
): OtherLoads['switched'] {
  const read = channel(facts, id)
  if (!read || (onFrom < 1 && read.polarity === null && id === 'coolant_pump')) return []
  const on = heldAt(read, timeS, 60)
  const found: number[] = []
  for (let i = 1; i < timeS.length; i++) {
    const turned = Number(on[i]! > onFrom) - Number(on[i - 1]! > onFrom)
    if (turned === 0 || Number.isNaN(on[i]! + on[i - 1]!)) continue
    const side = (from: number, to: number): Float64Array | null => {
      const kept = watts.filter((_, k) => timeS[k]! >= from && timeS[k]! < to && quiet[k] === 1)
      return kept.length >= 3 ? kept : null
    }
    const before = side(timeS[i]! - SIDE_S, timeS[i]! - 0.3)
    const after = side(timeS[i]! + 0.7, timeS[i]! + SIDE_S + 0.7)
    if (before && after) found.push(turned * (median(after) - median(before)))
  }
  if (found.length < FEWEST_STEPS) return []
  const step = median(found)
  const plusMinusW = (2 * 1.25 * Math.max(robustSpread(found), 5)) / Math.sqrt(found.length)
  return Math.abs(step) > (SURE / 2) * plusMinusW
    ? [{ name, watts: step, plusMinusW, times: found.length }]
    : []
}
