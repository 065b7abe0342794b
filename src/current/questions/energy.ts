import type { ChannelId } from '../../../shared/channels.ts'
import type { Assumption, Energy } from '../../../shared/review.ts'
import { distance } from '../../car/distance.ts'
import { type PackCurrent, packCurrent, UNLEARNED_ZERO_A } from '../../car/pack-current.ts'
import { FLOW_GAP_S, packFlow } from '../../car/pack-flow.ts'
import { type PackPower, packPower } from '../../car/pack-power.ts'
import { type Answer, notAssessed } from '../../facts/answer.ts'
import type { Facts } from '../../facts/facts.ts'
import { type SplitIntegral, splitIntegral } from '../../math/split-integral.ts'
import { median } from '../../math/stats.ts'
import { clippedCharge } from '../models/clipped-charge.ts'

/** Over less, consumption a kilometre is mostly the start; no source. */
const SHORTEST_KM = 0.2
/** More than a sensor's zero moves; no source. */
const FLOWS_A = 3

const QUESTION = 'How much energy left the pack, and how much came back?'
/** What a sign worked out for a magnitude may misplace of the energy put back. Common practice, no source. */
const MAGNITUDE_SHARE = 0.05
/** What of the energy counted as gone may have come back where no sign tells. Common practice, no source. */
const ONE_WAY_SHARE = 0.4

/**
 * Energy and charge of the drive.
 *
 * Model:  out = ∫ max(V·I, 0) dt, in = ∫ max(−V·I, 0) dt (trapezium, split where the power crosses zero), over
 *         everything but charging stretches; net = out − in; the same with I for ampere-hours.
 * Reads:  pack_current [A, discharge positive, zero removed], pack voltage [V], speed [km/h].
 * Gives:  the `energy` section with 95 % half widths from the current's gain, its zero times the time in each
 *         direction, the voltage's scale, what may have happened between samples, and gaps.
 * Blind:  across gaps over 5 s (said), beyond a clipped sensor's range (the interval is widened), to gain.
 * Biased by: noise around zero, which would count on both sides: below three spreads a half-second mean stands in.
 * Source: definition of power; check 400 V · 50 A · 36 s = 200 Wh.
 */
export function energy(facts: Facts): Answer {
  const current = facts.once(packCurrent)
  const power = facts.once(packPower)
  if (!current || !power) {
    const missing: ChannelId[] = current ? ['pack_voltage'] : ['pack_current', 'pack_voltage']
    const why = `no ${current ? 'pack voltage' : 'battery current'} in the log`
    const toAssess = `Log ${missing.join(' and ')} at 10 Hz or faster.`
    return { questions: [notAssessed('energy', QUESTION, missing, why, toAssess, 'Wh')], findings: [] }
  }
  const { all, amperes, watts } = facts.once(packFlow)!
  const charging = amperes === all ? null : plugged(power, all, amperes)
  const wh = integral(power.timeS, watts, 3600)
  const ah = integral(power.timeS, amperes, 3600)
  const volts = median(power.volts)
  const errors = sharedErrors(current)
  const oneWay = magnitudeOnly(current)
  const out = widths(wh, volts, errors, power.voltsPercent)
  const chargeWidths = widths(ah, 1, errors, 0)
  const km = facts.once(distance)
  const inKnown = (value: number): number | null => (oneWay ? null : value)
  const netWh = wh.above - wh.below
  const netPlusMinus = Math.hypot(
    (errors.gain + power.voltsPercent / 100) * netWh,
    (errors.zeroA * volts * (wh.aboveS + wh.belowS)) / 3600,
    2 * Math.hypot(wh.aboveError, wh.belowError),
    out.gaps,
    out.clipped,
    2 * errors.magnitude * wh.below,
  )
  const section: Energy = {
    out_wh: wh.above,
    out_wh_plus_minus: oneWay ? Math.hypot(out.above, ONE_WAY_SHARE * wh.above) : out.above,
    in_wh: inKnown(wh.below),
    in_wh_plus_minus: inKnown(out.below),
    net_wh: inKnown(netWh),
    net_wh_plus_minus: inKnown(netPlusMinus),
    wh_per_km: km && km.km > SHORTEST_KM ? inKnown(netWh / km.km) : null,
    wh_per_km_plus_minus:
      km && km.km > SHORTEST_KM
        ? inKnown(Math.hypot(netPlusMinus, (netWh * km.plusMinusKm) / km.km) / km.km)
        : null,
    ah_out: ah.above,
    ah_out_plus_minus: oneWay ? Math.hypot(chargeWidths.above, ONE_WAY_SHARE * ah.above) : chargeWidths.above,
    ah_in: inKnown(ah.below),
    ah_in_plus_minus: inKnown(chargeWidths.below),
  }
  return {
    // how much flowed is a figure, no fault: the section tells it, and here what it rests on
    questions: [],
    findings: [],
    sections: { energy: section },
    assumptions: [
      ...assumed(facts, current),
      {
        what: 'Energy and charge',
        value: `${restsOn(current, power, wh.gapsS, charging).join('; ')}.`,
        unit: '',
        source: 'learned from the log',
      },
    ],
  }
}

/** What energy and charge rest on, in words. */
function restsOn(current: PackCurrent, power: PackPower, gapsS: number, chargingWh: number | null): string[] {
  return [
    `current against ${power.voltsFrom}; current gain ±${current.gainPercent} %`,
    current.zeroPlusMinusA === null
      ? `its zero could not be learned, ±${UNLEARNED_ZERO_A} A taken`
      : `zero ${current.zeroA.toFixed(2)} ± ${current.zeroPlusMinusA.toFixed(2)} A removed`,
    gapsS > 0 ? `${gapsS.toFixed(0)} s without readings left out` : '',
    magnitudeOnly(current)
      ? 'the current carries no sign and nothing in the log gives it one: energy put back stays unknown, and what went out may hold some of it'
      : '',
    chargingWh === null ? '' : `charging at the plug, ${chargingWh.toFixed(0)} Wh, left out`,
  ].filter(Boolean)
}

/** What the figures rest on: each with its value and where it came from. */
function assumed(facts: Facts, current: PackCurrent): Assumption[] {
  const given = facts.vehicle.pack?.current_gain_percent !== undefined
  const zeroFrom = {
    'contactors-open': 'learned from the log with contactors open',
    'key-off': 'learned from the log with the key off',
    nothing: 'default: no moment of the log shows it',
  }[current.zeroFrom]
  return [
    {
      what: 'Gain tolerance of the battery current',
      value: current.gainPercent,
      unit: '%',
      source: given ? 'vehicle file' : 'default, common practice, no source',
    },
    { what: 'Zero of the battery current', value: current.zeroA, unit: 'A', source: zeroFrom },
  ]
}

/** No sign proved, and never a negative current: what came back cannot be told from what went out. */
function magnitudeOnly(current: PackCurrent): boolean {
  if (current.sign !== 'unproved') return false
  const least = -Math.max(3 * current.noiseA, 0.5)
  const high = current.amperes.reduce((most, value) => Math.max(most, value || 0), 0)
  return high > FLOWS_A && !current.amperes.some((value) => value < least)
}

const integral = (timeS: Float64Array, values: Float64Array, per: number): SplitIntegral =>
  splitIntegral(
    timeS,
    values.map((value) => value / per),
    FLOW_GAP_S,
  )

/** Wh that went in at the plug: what leaving the charging stretches out took away. */
function plugged(power: PackPower, all: Float64Array, kept: Float64Array): number {
  const watts = all.map((value, i) => (kept[i] === value ? 0 : value * power.volts[i]!))
  return integral(power.timeS, watts, 3600).below
}

interface Errors {
  readonly gain: number
  readonly zeroA: number
  /** A·s that may have flowed beyond the range: discharge, charge. */
  readonly clippedAs: readonly [number, number]
  readonly magnitude: number
}

function sharedErrors(current: PackCurrent): Errors {
  return {
    gain: current.gainPercent / 100,
    zeroA: current.zeroPlusMinusA ?? UNLEARNED_ZERO_A,
    clippedAs: clippedCharge(current),
    magnitude: current.sign === 'from-magnitude' ? MAGNITUDE_SHARE : 0,
  }
}

/** 95 % half widths: independent parts added in quadrature. `per` is V for energy and 1 for charge. */
function widths(
  amount: SplitIntegral,
  per: number,
  errors: Errors,
  voltsPercent: number,
): { above: number; below: number; gaps: number; clipped: number } {
  const hours = 1 / 3600
  const [clippedOut, clippedIn] = errors.clippedAs.map((charge) => charge * per * hours) as [number, number]
  const meanRate = (amount.above + amount.below) / Math.max(1, amount.aboveS + amount.belowS)
  const gaps = meanRate * amount.gapsS
  const scale = Math.hypot(errors.gain, voltsPercent / 100)
  const one = (size: number, seconds: number, error: number, clipped: number): number =>
    Math.hypot(
      scale * size,
      errors.zeroA * per * seconds * hours,
      2 * error,
      gaps,
      clipped,
      errors.magnitude * amount.below,
    )
  return {
    above: one(amount.above, amount.aboveS, amount.aboveError, clippedOut),
    below: one(amount.below, amount.belowS, amount.belowError, clippedIn),
    gaps,
    clipped: Math.hypot(clippedOut, clippedIn),
  }
}
