import type { Car } from './car.ts'
import type { Fault } from './faults.ts'
import type { Ledger } from './ledger.ts'
import type { Pack } from './pack.ts'
import type { RunawaySpell } from './runaway.ts'

/** Step of the physics, s. */
export const STEP_S = 0.01
/** Step of the heat, s. */
export const HEAT_STEP_S = 0.5

/** Channels that the physics gives at every step, by catalogue id, in the catalogue's units. */
export const TRACED = [
  'pack_voltage',
  'pack_current',
  'link_voltage',
  'inverter_dc_current',
  'contactor_precharge',
  'contactor_positive',
  'contactor_negative',
  'contactor_precharge_command',
  'contactor_positive_command',
  'contactor_negative_command',
  'contactor_positive_feedback',
  'contactor_negative_feedback',
  'key_on',
  'charge_plug',
  'interlock_closed',
  'inertia_closed',
  'drive_ready',
  'selector',
  'brake_switch',
  'brake_lamp',
  'coolant_pump',
  'bms_state',
  'inverter_state',
  'bms_faults',
  'inverter_faults',
  'pedal_track_1',
  'pedal_track_2',
  'pedal_position',
  'brake_pressure',
  'speed',
  'motor_speed',
  'torque_request',
  'torque',
  'acceleration',
  'gradient',
  'lv_voltage',
  'dcdc_current',
  'heater_current',
  'charger_current',
  'charger_voltage',
  'isolation_resistance',
  'charge_limit',
  'discharge_limit',
] as const

export type Traced = (typeof TRACED)[number]

/** The true drive, before any box measures it. */
export interface Trace {
  readonly car: Car
  readonly pack: Pack
  readonly faults: readonly Fault[]
  /** Steps of STEP_S; sample i is at i · STEP_S. */
  readonly length: number
  readonly at: Readonly<Record<Traced, Float64Array>>
  /** Slow parts' filtered currents, A, and discharged charge, Ah. */
  readonly x1: Float64Array
  readonly x2: Float64Array
  readonly dischargedAh: Float64Array
  /** Every HEAT_STEP_S: a list a module, a sensor; water, inverter and motor. °C. */
  readonly moduleC: readonly Float64Array[]
  readonly sensorC: readonly Float64Array[]
  readonly coolantInC: Float64Array
  readonly coolantOutC: Float64Array
  readonly inverterC: Float64Array
  readonly motorC: Float64Array
  readonly ledger: Ledger
  readonly runaways: readonly RunawaySpell[]
}

/** A traced channel between its steps, by a straight line. */
export function between(values: Float64Array, timeS: number, stepS = STEP_S): number {
  const place = timeS / stepS
  if (place <= 0) return values[0]!
  const at = Math.floor(place)
  if (at >= values.length - 1) return values[values.length - 1]!
  return values[at]! + (place - at) * (values[at + 1]! - values[at]!)
}

/** A traced switch or code: the value of the step before. */
export function stepAt(values: Float64Array, timeS: number): number {
  const at = Math.floor(timeS / STEP_S + 1e-6)
  return values[at < 0 ? 0 : at >= values.length ? values.length - 1 : at]!
}
