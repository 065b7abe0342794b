import type { Vehicle } from '../../../shared/vehicle.ts'

/** A cell that rests between these is iron phosphate; cell makers' data sheets, from memory. */
const IRON_REST_LOW_V = 3.2
/** See above. */
const IRON_REST_HIGH_V = 3.4
/** And between these one with nickel; cell makers' data sheets, from memory. */
const NMC_REST_LOW_V = 3.5
/** See above. */
const NMC_REST_HIGH_V = 4.3

/** Flatter than this, V per percent of charge, a steady voltage says nothing about charge. */
export const FLAT_V_PER_PERCENT = 0.002

/** Rest voltage against state of charge, both ascending. */
export interface OpenCircuitCurve {
  readonly socPercent: readonly number[]
  readonly volts: readonly number[]
  readonly source: string
  readonly flatLfp: boolean
}

/** Usual rest voltages at 25 °C; from memory: cells of one chemistry differ by tens of millivolts. */
const FROM_MEMORY: Readonly<Record<string, readonly (readonly [number, number])[]>> = {
  nmc: [
    [0, 3.0],
    [5, 3.4],
    [10, 3.5],
    [20, 3.58],
    [30, 3.62],
    [40, 3.65],
    [50, 3.69],
    [60, 3.77],
    [70, 3.87],
    [80, 3.96],
    [90, 4.07],
    [100, 4.18],
  ],
  lfp: [
    [0, 2.6],
    [5, 3.05],
    [10, 3.19],
    [20, 3.24],
    [30, 3.27],
    [40, 3.285],
    [50, 3.29],
    [60, 3.295],
    [70, 3.325],
    [80, 3.33],
    [90, 3.335],
    [97, 3.345],
    [100, 3.45],
  ],
  lto: [
    [0, 2.0],
    [10, 2.12],
    [50, 2.25],
    [90, 2.4],
    [100, 2.65],
  ],
}

/**
 * The curve of the vehicle file, else the chemistry's usual one (from memory), else null. Without a stated chemistry
 * a pack resting between 3.2 and 3.4 V is taken for LFP, one above 3.5 V for NMC.
 */
export function openCircuit(vehicle: Vehicle, restV: number): OpenCircuitCurve | null {
  const stated = (vehicle.pack?.chemistry ?? '').toLowerCase()
  const guess =
    restV > IRON_REST_LOW_V && restV < IRON_REST_HIGH_V
      ? 'lfp'
      : restV >= NMC_REST_LOW_V && restV < NMC_REST_HIGH_V
        ? 'nmc'
        : ''
  const chemistry = /lfp|fepo|iron/.test(stated)
    ? 'lfp'
    : /lto|titan/.test(stated)
      ? 'lto'
      : /n[mc][ca]|nca|cobalt|lmo/.test(stated)
        ? 'nmc'
        : guess
  const given = vehicle.pack?.ocv
  const pairs = given ? [...given].sort((a, b) => a[0] - b[0]) : FROM_MEMORY[chemistry]
  if (!pairs) return null
  return {
    socPercent: pairs.map(([soc]) => soc),
    volts: pairs.map(([, volts]) => volts),
    source: given
      ? 'vehicle file'
      : `usual ${chemistry.toUpperCase()} curve, from memory${stated ? '' : ' (chemistry guessed from the voltage)'}`,
    flatLfp: chemistry === 'lfp',
  }
}

/** State of charge at a rest voltage, %; the ends are held. */
export function socAt(curve: OpenCircuitCurve, volts: number): number {
  const { socPercent, volts: curveV } = curve
  if (volts <= curveV[0]!) return socPercent[0]!
  for (let i = 1; i < curveV.length; i++)
    if (volts <= curveV[i]!) {
      const share = (volts - curveV[i - 1]!) / (curveV[i]! - curveV[i - 1]! || 1)
      return socPercent[i - 1]! + share * (socPercent[i]! - socPercent[i - 1]!)
    }
  return socPercent[socPercent.length - 1]!
}

/** Rest voltage at a state of charge in percent; the ends are held. */
export function voltsAt(curve: OpenCircuitCurve, percent: number): number {
  const { socPercent, volts } = curve
  if (percent <= socPercent[0]!) return volts[0]!
  for (let i = 1; i < socPercent.length; i++)
    if (percent <= socPercent[i]!) {
      const share = (percent - socPercent[i - 1]!) / (socPercent[i]! - socPercent[i - 1]! || 1)
      return volts[i - 1]! + share * (volts[i]! - volts[i - 1]!)
    }
  return volts[volts.length - 1]!
}

/** Rest voltage gained per percent of charge about that voltage, V. */
export function slopeAt(curve: OpenCircuitCurve, volts: number): number {
  const soc = socAt(curve, volts)
  const low = Math.max(0, soc - 3)
  const high = Math.min(100, soc + 3)
  return (voltsAt(curve, high) - voltsAt(curve, low)) / (high - low)
}
