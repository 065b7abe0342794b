/**
 * The channel catalogue: every name the program knows, its unit inside the program, and what values are
 * believable. One table; naming, unit conversion, checks and the page all read it.
 */
import { BOUNDS } from './bounds.ts'

/** `number` can take any value; `switch` is 0/1; `code` is a state number, bit field or text. */
export type ChannelKind = 'number' | 'switch' | 'code'

export interface ChannelEntry<Id extends string = string, Numbered extends boolean = boolean> {
  readonly id: Id
  /** Unit inside the program; '' where there is none. */
  readonly unit: string
  readonly kind: ChannelKind
  /** Plain words for people. */
  readonly label: string
  /** Lowest and highest believable value in `unit`. Outside it a sample is a sentinel or a wrong mapping. */
  readonly range: readonly [number, number]
  /** True for `cell_voltage.1` … `.N`: `id` is then the part before the dot. */
  readonly numbered: Numbered
}

const entry = <Id extends string>(
  id: Id,
  unit: string,
  label: string,
  range: readonly [number, number],
  kind: ChannelKind = 'number',
): ChannelEntry<Id, false> => ({ id, unit, kind, label, range, numbered: false })

const numbered = <Id extends string>(
  id: Id,
  unit: string,
  label: string,
  range: readonly [number, number],
  kind: ChannelKind = 'number',
): ChannelEntry<Id, true> => ({ id, unit, kind, label, range, numbered: true })

const onOff = <Id extends string>(id: Id, label: string): ChannelEntry<Id, false> =>
  entry(id, '', label, [0, 1], 'switch')

const ROWS = [
  numbered('cell_voltage', 'V', 'Cell voltage', [0.5, 5]),
  entry('lowest_cell_voltage', 'V', 'Lowest cell voltage', [0.5, 5]),
  entry('highest_cell_voltage', 'V', 'Highest cell voltage', [0.5, 5]),
  entry('mean_cell_voltage', 'V', 'Mean cell voltage', [0.5, 5]),
  entry('lowest_cell_number', '', 'Number of the lowest cell', [0, 1000]),
  entry('highest_cell_number', '', 'Number of the highest cell', [0, 1000]),
  numbered('cell_resistance_reported', 'mΩ', 'Cell resistance as reported', [0, 100]),
  numbered('balancing', '', 'Balancing', [0, 1], 'switch'),
  onOff('balancing_on', 'Balancing on'),
  numbered('module_temperature', '°C', 'Module temperature', [-39.9, 150]),
  entry('hottest_temperature', '°C', 'Hottest temperature', [-39.9, 150]),
  entry('coldest_temperature', '°C', 'Coldest temperature', [-39.9, 150]),
  entry('pack_voltage', 'V', 'Pack voltage', [0, 1200]),
  numbered('box_voltage', 'V', 'Box voltage', [0, 1200]),
  entry('pack_current', 'A', 'Pack current', [-3000, 3000]),
  entry('inverter_dc_current', 'A', 'Inverter DC current', [-3000, 3000]),
  entry('phase_current', 'A', 'Phase current', [-3000, 3000]),
  entry('pack_power', 'W', 'Pack power', [-1e6, 1e6]),
  entry('link_voltage', 'V', 'Link voltage', [-50, 1200]),
  entry('isolation_resistance', 'kΩ', 'Isolation resistance', [0, 1e6]),
  entry('soc', '%', 'State of charge', [-5, 110]),
  entry('charge_limit', 'A', 'Charge current limit', [-3000, 3000]),
  entry('discharge_limit', 'A', 'Discharge current limit', [-3000, 3000]),
  onOff('contactor_precharge', 'Precharge contactor'),
  onOff('contactor_positive', 'Positive contactor'),
  onOff('contactor_negative', 'Negative contactor'),
  onOff('contactor_precharge_command', 'Precharge contactor command'),
  onOff('contactor_positive_command', 'Positive contactor command'),
  onOff('contactor_negative_command', 'Negative contactor command'),
  onOff('contactor_precharge_feedback', 'Precharge contactor feedback'),
  onOff('contactor_positive_feedback', 'Positive contactor feedback'),
  onOff('contactor_negative_feedback', 'Negative contactor feedback'),
  onOff('key_on', 'Key on'),
  onOff('charge_plug', 'Charge plug in'),
  onOff('interlock_closed', 'Interlock closed'),
  onOff('inertia_closed', 'Inertia switch closed'),
  onOff('drive_ready', 'Drive ready'),
  entry('selector', '', 'Selector', [-1, 1], 'code'),
  onOff('brake_lamp', 'Brake lamp'),
  onOff('reverse_lamp', 'Reverse lamp'),
  onOff('coolant_pump', 'Coolant pump'),
  entry('bms_state', '', 'Battery unit state', [0, 1e9], 'code'),
  entry('inverter_state', '', 'Inverter state', [0, 1e9], 'code'),
  entry('bms_faults', '', 'Battery unit faults', [0, 2 ** 53], 'code'),
  entry('inverter_faults', '', 'Inverter faults', [0, 2 ** 53], 'code'),
  entry('pedal_track_1', 'V', 'Pedal track 1', [-10, 100000]),
  entry('pedal_track_2', 'V', 'Pedal track 2', [-10, 100000]),
  entry('pedal_supply_1', 'V', 'Pedal supply 1', [0, 30]),
  entry('pedal_supply_2', 'V', 'Pedal supply 2', [0, 30]),
  entry('pedal_position', '%', 'Pedal position', [-20, 120]),
  entry('brake_pressure', 'bar', 'Brake pressure', [-5, 300]),
  entry('brake_pressure_front', 'bar', 'Brake pressure, front', [-5, 300]),
  entry('brake_pressure_rear', 'bar', 'Brake pressure, rear', [-5, 300]),
  entry('brake_travel', '%', 'Brake travel', [-20, 120]),
  onOff('brake_switch', 'Brake switch'),
  entry('speed', 'km/h', 'Speed', [-60, 350]),
  numbered('wheel_speed', 'km/h', 'Wheel speed', [-60, 350]),
  entry('acceleration', 'm/s²', 'Acceleration', [-30, 30]),
  entry('gradient', '%', 'Gradient', [-60, 60]),
  entry('motor_speed', 'rpm', 'Motor speed', [-25000, 25000]),
  entry('torque_request', 'N·m', 'Torque request', [-3000, 3000]),
  entry('torque', 'N·m', 'Motor torque', [-3000, 3000]),
  entry('inverter_temperature', '°C', 'Inverter temperature', [-39.9, 200]),
  entry('motor_temperature', '°C', 'Motor temperature', [-39.9, 249]),
  entry('coolant_in', '°C', 'Coolant in', [-39.9, 150]),
  entry('coolant_out', '°C', 'Coolant out', [-39.9, 150]),
  entry('lv_voltage', 'V', '12 V system', [0, 40]),
  entry('dcdc_current', 'A', 'DC-DC current', [-500, 500]),
  entry('heater_current', 'A', 'Cabin heater current', [-500, 500]),
  entry('charger_current', 'A', 'Charger current', [-1000, 1000]),
  entry('charger_voltage', 'V', 'Charger voltage', [0, 1200]),
  entry('charger_temperature', '°C', 'Charger temperature', [-39.9, 200]),
  entry('dcdc_temperature', '°C', 'DC-DC temperature', [-39.9, 200]),
  onOff('traction_active', 'Traction control active'),
  onOff('abs_active', 'Anti-lock active'),
  onOff('cruise_active', 'Cruise control active'),
  onOff('hold_active', 'Creep or hill hold at work'),
  onOff('slope_hold_request', 'Hill hold request'),
  entry('ambient_temperature', '°C', 'Ambient temperature', [-60, 80]),
  entry('cabin_temperature', '°C', 'Cabin temperature', [-60, 100]),
  entry('coolant_flow', 'l/min', 'Coolant flow', [-5, 200]),
  entry('pump_duty', '%', 'Coolant pump duty', [0, 100]),
  entry('fan_duty', '%', 'Fan duty', [0, 100]),
  entry('pilot_duty', '%', 'Charge pilot duty', [0, 100]),
  entry('pilot_voltage', 'V', 'Charge pilot voltage', [-15, 15]),
  entry('proximity_resistance', 'Ω', 'Proximity resistance', [0, 1e6]),
  onOff('charge_lock', 'Charge plug locked'),
  onOff('charge_enable', 'Charging enabled'),
  onOff('contactor_charge', 'Charge contactor'),
  entry('mains_voltage', 'V', 'Mains voltage', [0, 500]),
  entry('mains_current', 'A', 'Mains current', [-100, 100]),
  entry('lv_current', 'A', '12 V current', [-1000, 1000]),
  numbered('box_current', 'A', 'Box current', [-3000, 3000]),
  entry('heater_power', 'W', 'Cabin heater power', [-500, 30_000]),
  entry('cooler_power', 'W', 'Cabin cooler power', [-500, 30_000]),
  // what was asked of them: W, or anything over 0 for on
  entry('heater_request', 'W', 'Cabin heater request', [0, 30_000]),
  entry('cooler_request', 'W', 'Cabin cooler request', [0, 30_000]),
  entry('charger_state', '', 'Charger state', [0, 1e9], 'code'),
  entry('charge_current_request', 'A', 'Charge current request', [-1000, 1000]),
  entry('charge_voltage_request', 'V', 'Charge voltage request', [0, 1200]),
  entry('odometer', 'km', 'Odometer', [0, 2e6]),
] as const

export const CATALOGUE: readonly ChannelEntry[] = ROWS

type Row = (typeof ROWS)[number]
/** A channel without a number, and a family of channels with a number each. */
export type SingleId = Extract<Row, { readonly numbered: false }>['id']
export type FamilyId = Extract<Row, { readonly numbered: true }>['id']
/** Every channel that the program knows by name: one that is not in the catalogue does not compile. */
export type ChannelId = SingleId | `${FamilyId}.${number}`

const byId = new Map<string, ChannelEntry>(CATALOGUE.map((each) => [each.id, each]))

/**
 * The catalogue entry of a channel id; `cell_voltage.7` finds the entry `cell_voltage`.
 * `undefined` for a channel kept under its own name.
 */
export function catalogueEntry(id: string): ChannelEntry | undefined {
  const dot = id.lastIndexOf('.')
  if (dot > 0 && /^\d+$/.test(id.slice(dot + 1))) {
    const found = byId.get(id.slice(0, dot))
    return found?.numbered && Number(id.slice(dot + 1)) <= BOUNDS.cells ? found : undefined
  }
  const found = byId.get(id)
  return found?.numbered ? undefined : found
}

/** `cell_voltage.7` → 7; 0 where the id carries no number. */
export function channelNumber(id: string): number {
  const match = /\.(\d+)$/.exec(id)
  return match ? Number(match[1]) : 0
}

/** Plain words for a channel id: `cell_voltage.7` → "Cell voltage 7". */
export function channelLabel(id: string): string {
  const found = catalogueEntry(id)
  if (!found) return id
  const number = channelNumber(id)
  return number > 0 ? `${found.label} ${number}` : found.label
}

/** Channel names in a sentence become plain words: `not logged: brake_lamp` → "not logged: brake lamp". */
export function namesInWords(text: string): string {
  return text.replace(/\b[a-z][a-z0-9]*(?:_[a-z0-9]+)+(?:\.\d+)?/g, (name) => {
    const found = catalogueEntry(name) ?? byId.get(name)
    if (!found) return name
    const label = found.numbered && channelNumber(name) === 0 ? `${found.label}s` : channelLabel(name)
    return /^[A-Z][a-z]/.test(label) ? label.charAt(0).toLowerCase() + label.slice(1) : label
  })
}
