import { type Car, cellCount } from './car.ts'

/**
 * How a measuring box sees channels. A reading is a group of channels converted one after the other:
 *
 *     value = quantise( clip( filter(truth at stamp − delay − age) · (1 + gain) + offset + noise ) )
 *
 * `age` of the group's j-th of n channels is scan · (n − 1 − j) / n: the last is the freshest; with `scanGroup`
 * channels are converted that many at a time. The filter is first order. Gain, offset and noise are in the channel's catalogue unit.
 */
export interface Reading {
  readonly channels: readonly string[]
  readonly rateHz: number
  readonly phaseS?: number
  readonly delayS?: number
  readonly scanS?: number
  readonly scanGroup?: number
  readonly filterS?: number
  readonly step?: number
  readonly gain?: number
  readonly offset?: number
  /** The offset creeps: so much more each hour. */
  readonly creep?: number
  /** Standard deviation. */
  readonly noise?: number
  readonly clip?: readonly [number, number]
  /** The sign is lost. */
  readonly unsigned?: boolean
  /** Charge positive instead of discharge positive. */
  readonly turned?: boolean
  /** The sign is turned only while the charge plug is in. */
  readonly turnedOnCharge?: boolean
  /** A switch written the other way round: 1 = open. */
  readonly inverted?: boolean
  /** A sample only where the value changed (and at the start). */
  readonly onChange?: boolean
  /** Every row of the box repeats the last value instead of leaving the field empty. */
  readonly held?: boolean
  /** Sender on a bus. */
  readonly node?: string
}

/** Own time = true time · (1 + driftPpm · 10⁻⁶) + offsetS; `startsAt` is the wall clock at own time 0. */
export interface Clock {
  readonly offsetS: number
  readonly driftPpm: number
  readonly startsAt: string | null
  /** The clock is set: from true time `atS` on, `byS` more. */
  readonly steps?: readonly { readonly atS: number; readonly byS: number }[]
}

export interface Box {
  readonly name: string
  readonly readings: readonly Reading[]
  /** Rows a second of the box's log; a reading is sampled on the row at or after its own moment. */
  readonly rowHz: number
  /** Rows come this much early or late (standard deviation), and are stamped when they come. */
  readonly jitterS?: number
  readonly clock?: Clock
  /** The log is cut to this part of the drive. */
  readonly fromS?: number
  readonly toS?: number
}

/** What boxes are like, in the words of their data sheets. */
export interface BoxStyle {
  readonly cellHz: number
  readonly cellStepV: number
  readonly cellNoiseV: number
  readonly scanS: number
  readonly cellFilterS: number
  /** Cells converted together, one group after the other. */
  readonly scanGroup: number
  readonly currentHz: number
  readonly currentStepA: number
  readonly currentNoiseA: number
  readonly currentGain: number
  readonly currentOffsetA: number
  readonly currentCreepA: number
  readonly currentClip: readonly [number, number]
  readonly unsigned: boolean
  readonly turned: boolean
  readonly turnedOnCharge: boolean
  readonly temperatureStepC: number
  readonly temperatureHz: number
  readonly vehicleHz: number
  readonly switchHz: number
  readonly switchesOnChange: boolean
  readonly held: boolean
  /** Readings beside the usual ones: derived.ts lists what else there is. */
  readonly extra: readonly Reading[]
}

export const USUAL_STYLE: BoxStyle = {
  cellHz: 10,
  cellStepV: 0.001,
  cellNoiseV: 0.0006,
  scanS: 0.04,
  scanGroup: 1,
  cellFilterS: 0,
  currentHz: 50,
  currentStepA: 0.1,
  currentNoiseA: 0.25,
  currentGain: 0.004,
  currentOffsetA: 0.15,
  currentCreepA: 0,
  currentClip: [-500, 500],
  unsigned: false,
  turned: false,
  turnedOnCharge: false,
  temperatureStepC: 0.5,
  temperatureHz: 1,
  vehicleHz: 50,
  switchHz: 10,
  switchesOnChange: false,
  held: false,
  extra: [],
}

const numbered = (id: string, count: number): string[] =>
  Array.from({ length: count }, (_, k) => `${id}.${k + 1}`)

/** The battery unit's readings: cells module by module, pack, contactors, limits, temperatures. */
export function batteryReadings(car: Car, style: BoxStyle): Reading[] {
  const node = 'battery'
  const own = { node, ...(style.held ? { held: true } : {}) }
  const slow = { ...own, rateHz: Math.min(style.cellHz, style.switchHz) }
  return [
    {
      ...own,
      channels: ['pack_current'],
      rateHz: style.currentHz,
      step: style.currentStepA,
      gain: style.currentGain,
      offset: style.currentOffsetA,
      creep: style.currentCreepA,
      noise: style.currentNoiseA,
      clip: style.currentClip,
      unsigned: style.unsigned,
      turned: style.turned,
      turnedOnCharge: style.turnedOnCharge,
    },
    { ...own, channels: ['pack_voltage'], rateHz: style.cellHz, step: 0.1, noise: 0.05 },
    { ...own, channels: ['link_voltage'], rateHz: style.vehicleHz, step: 0.5, noise: 0.3 },
    {
      ...own,
      channels: numbered('cell_voltage', cellCount(car)),
      rateHz: style.cellHz,
      scanS: style.scanS,
      scanGroup: style.scanGroup,
      filterS: style.cellFilterS,
      step: style.cellStepV,
      noise: style.cellNoiseV,
    },
    {
      ...own,
      channels: numbered('module_temperature', car.pack.cellsPerModule.length * car.heat.sensorsPerModule),
      rateHz: style.temperatureHz,
      step: style.temperatureStepC,
      noise: 0.05,
    },
    {
      ...own,
      channels: ['isolation_resistance'],
      rateHz: 1,
      step: 1,
      noise: 12,
      clip: [0, car.isolation.ceilingKohm],
    },
    {
      ...slow,
      channels: [
        'contactor_precharge',
        'contactor_positive',
        'contactor_negative',
        'interlock_closed',
        'bms_state',
        'bms_faults',
      ],
      onChange: style.switchesOnChange,
    },
    { ...own, channels: ['soc'], rateHz: 1, step: 0.1 },
    { ...own, channels: ['charge_limit', 'discharge_limit'], rateHz: 1, step: 1 },
  ]
}

/** The vehicle side's readings: pedal, brake, torque, speeds, switches, 12 V, temperatures. */
export function vehicleReadings(_car: Car, style: BoxStyle): Reading[] {
  const node = 'vehicle'
  const own = { node, ...(style.held ? { held: true } : {}) }
  const rateHz = style.vehicleHz
  return [
    { ...own, channels: ['pedal_track_1', 'pedal_track_2'], rateHz, step: 0.002, noise: 0.004 },
    { ...own, channels: ['pedal_position'], rateHz, step: 0.1 },
    { ...own, channels: ['brake_pressure'], rateHz, step: 0.05, noise: 0.15 },
    { ...own, channels: ['speed'], rateHz: Math.min(rateHz, 20), step: 0.05, noise: 0.06 },
    { ...own, channels: ['motor_speed'], rateHz, step: 1, noise: 2, node: 'inverter' },
    { ...own, channels: ['torque_request', 'torque'], rateHz, step: 0.1, noise: 0.25, node: 'inverter' },
    { ...own, channels: ['inverter_dc_current'], rateHz, step: 0.5, noise: 0.4, node: 'inverter' },
    {
      ...own,
      channels: [
        'key_on',
        'charge_plug',
        'inertia_closed',
        'brake_switch',
        'brake_lamp',
        'selector',
        'drive_ready',
      ],
      rateHz: style.switchHz,
      onChange: style.switchesOnChange,
    },
    {
      ...own,
      channels: ['inverter_state'],
      rateHz: style.switchHz,
      onChange: style.switchesOnChange,
      node: 'inverter',
    },
    { ...own, channels: ['lv_voltage'], rateHz: 10, step: 0.01, noise: 0.01 },
    { ...own, channels: ['dcdc_current'], rateHz: 2, step: 0.1, noise: 0.05 },
    { ...own, channels: ['coolant_in', 'coolant_out'], rateHz: 1, step: 0.1, noise: 0.03 },
    { ...own, channels: ['inverter_temperature', 'motor_temperature'], rateHz: 1, step: 1, node: 'inverter' },
  ]
}

/** One logger that hears both sides. */
export function oneBox(car: Car, style: Partial<BoxStyle> = {}): Box[] {
  const whole = { ...USUAL_STYLE, ...style }
  return [
    {
      name: 'drive',
      rowHz: Math.max(whole.vehicleHz, whole.currentHz, whole.cellHz),
      readings: [...vehicleReadings(car, whole), ...batteryReadings(car, whole), ...whole.extra],
    },
  ]
}

/** Battery unit and vehicle logger apart, each with its own clock; both read current-related channels. */
export function twoBoxes(
  car: Car,
  style: Partial<BoxStyle> = {},
  clocks: { readonly battery?: Clock; readonly vehicle?: Clock } = {},
): Box[] {
  const whole = { ...USUAL_STYLE, ...style }
  return [
    {
      name: 'battery',
      rowHz: Math.max(whole.cellHz, whole.currentHz),
      readings: batteryReadings(car, whole),
      ...(clocks.battery ? { clock: clocks.battery } : {}),
    },
    {
      name: 'vehicle',
      rowHz: whole.vehicleHz,
      readings: [...vehicleReadings(car, whole), ...whole.extra],
      ...(clocks.vehicle ? { clock: clocks.vehicle } : {}),
    },
  ]
}
