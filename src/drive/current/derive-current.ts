import type { Channel } from '../../../shared/drive.ts'
import { correlation } from '../../math/correlation.ts'
import { median } from '../../math/stats.ts'
import { linearAt } from '../../samples/on-one-clock.ts'
import { sumOfCells } from '../../samples/sum-of-cells.ts'
import { LIVE_V } from '../live-volts.ts'
import { binWitnesses, pullingRatio, weighCurrent } from './power-balance.ts'

/** Fewer pairs tell no motor current; no source. */
const FEWEST_PAIRS = 100
/** A motor's current follows torque so closely; no source. */
const MOTOR_R = 0.95
/** Voltage falls with a battery's current at least so closely where no power is known; no source. */
const SAG_R = 0.6

type Channels = ReadonlyMap<string, Channel>

/** How a current that was worked out says where it comes from. */
export const WORKED_OUT = 'worked out from '

/** Score (see `weighCurrent`) from which the car itself supports a current that was worked out. */
const SUPPORTED = 8
/** Electrical over mechanical power while pulling, within which a battery current lies. Common practice, no source. */
const RATIO: readonly [number, number] = [0.8, 1.8]
/** A standing DC-DC draw above this is no car's: the reading is then of its 12 V side. */
const CONVERTER_W = 1200
/** Of a DC-DC converter. Common practice, no source. */
const CONVERTER_EFFICIENCY = 0.9

export interface DerivedCurrent {
  readonly channel: Channel
  readonly assumption: string
}

/**
 * Is what is called the battery current really the motor's? A phase current follows torque, a battery current follows
 * torque · speed / voltage. Over all bins in which both are known: |I| keeps to |torque| (r > 0.95) clearly better than I
 * to power. Gives the sentence that says so, or null.
 */
export function followsTorque(current: Channel, channels: Channels, durationS: number): string | null {
  const torque = channels.get('torque')
  const bins = binWitnesses(channels, current, durationS)
  if (!torque || !bins.hasMechanical || !bins.voltsFrom) return null
  const amperes = bins.means(current)
  const pull = bins.means(torque)
  const withTorque = correlation(amperes.map(Math.abs), pull.map(Math.abs))
  const power = bins.mechanicalW.map((watts, i) => watts / bins.volts[i]!)
  const signed = correlation(amperes, power).r
  const unsigned = correlation(amperes.map(Math.abs), power.map(Math.abs)).r
  const withPower = Math.max(Math.abs(signed) || 0, unsigned || 0)
  if (withTorque.pairs < FEWEST_PAIRS || !(withTorque.r > MOTOR_R) || withTorque.r < withPower + 0.05)
    return null
  return `${current.from} follows torque (r = ${withTorque.r.toFixed(2)}) and not power (r = ${withPower.toFixed(2)}): taken for a motor current, not the battery's`
}

/**
 * Works a battery current out where none is logged: from the inverter's DC current plus what the log has of heater and
 * DC-DC converter, else from pack power over pack voltage; only if the car supports it: the pack sags with it and its
 * power fits torque times speed.
 * @returns null where nothing supports one
 */
export function deriveCurrent(channels: Channels, durationS: number): DerivedCurrent | null {
  for (const candidate of [fromInverter(channels), fromPower(channels)]) {
    if (!candidate) continue
    const bins = binWitnesses(channels, candidate, durationS)
    const amperes = bins.means(candidate)
    const { score, sag } = weighCurrent(bins, amperes)
    const ratio = pullingRatio(bins, score < 0 ? amperes.map((value) => -value) : amperes)
    const fits = ratio === null || (ratio > RATIO[0] && ratio < RATIO[1])
    if (Math.abs(score) < SUPPORTED || !fits || (ratio === null && Math.abs(sag) < SAG_R)) continue
    return {
      channel: candidate,
      assumption: `No battery current is logged: it was ${candidate.from}; ${bins.voltsFrom ? 'the pack sags with it' : 'its power fits'}${ratio === null ? '' : ` and its power is ${ratio.toFixed(2)} times the mechanical power while pulling`}. Loads that are not logged are missing from it.`,
    }
  }
  return null
}

function fromInverter(channels: Channels): Channel | null {
  const inverter = channels.get('inverter_dc_current')
  if (!inverter) return null
  const parts = ['inverter_dc_current']
  const values = Float64Array.from(inverter.values)
  const add = (id: string, scale: (at: number) => number): void => {
    const extra = channels.get(id)
    if (!extra) return
    const amperes = linearAt(extra, inverter.timeS, 10)
    for (let i = 0; i < values.length; i++)
      if (Number.isFinite(amperes[i]!)) values[i]! += Math.abs(amperes[i]!) * scale(i)
    parts.push(id)
  }
  const sign = Math.sign(signOf(inverter, channels)) || 1
  add('heater_current', () => sign)
  const converter = channels.get('dcdc_current')
  const pack = channels.get('pack_voltage') ?? channels.get('link_voltage')
  const volts = median(pack?.values ?? sumOfCells(channels)?.volts ?? [])
  const lv = channels.get('lv_voltage')
  if (converter && volts > LIVE_V) {
    const lowSide = median(converter.values.map(Math.abs)) * volts > CONVERTER_W
    const ratio = lowSide ? (lv ? median(lv.values) : 13.8) / (CONVERTER_EFFICIENCY * volts) : 1
    add('dcdc_current', () => sign * ratio)
  }
  return derived(inverter, values, parts.join(' + '))
}

/** Which way the inverter's own current counts discharge: loads have to be added on that side. */
function signOf(inverter: Channel, channels: Channels): number {
  const durationS = inverter.timeS[inverter.timeS.length - 1] ?? 0
  const bins = binWitnesses(channels, inverter, durationS)
  return weighCurrent(bins, bins.means(inverter)).score
}

function fromPower(channels: Channels): Channel | null {
  const power = channels.get('pack_power')
  const pack = channels.get('pack_voltage') ?? channels.get('link_voltage')
  if (!power || !pack) return null
  const volts = linearAt(pack, power.timeS, 5)
  const values = power.values.map((watts, i) => (volts[i]! > LIVE_V ? watts / volts[i]! : Number.NaN))
  return derived(power, values, `pack_power / ${pack.id}`)
}

const derived = (like: Channel, values: Float64Array, from: string): Channel => ({
  ...like,
  id: 'pack_current',
  unit: 'A',
  values,
  from: `${WORKED_OUT}${from}`,
  step: 0,
})
