import { catalogueEntry, channelNumber } from '../../../shared/channels.ts'

/** How a box names its columns. All three are ours: plain words, short snake case, camel case. */
export type NameStyle = 'words' | 'snake' | 'camel'

/** [plain words, short snake case, camel case] a channel; `#` stands for the number. */
const NAMES: Readonly<Record<string, readonly [string, string, string]>> = {
  cell_voltage: ['Cell # voltage', 'u_cell_#', 'cell#Voltage'],
  lowest_cell_voltage: ['Lowest cell', 'u_cell_min', 'minCellVoltage'],
  highest_cell_voltage: ['Highest cell', 'u_cell_max', 'maxCellVoltage'],
  mean_cell_voltage: ['Mean cell', 'u_cell_mean', 'meanCellVoltage'],
  lowest_cell_number: ['Number of lowest cell', 'n_cell_min', 'minCellNumber'],
  highest_cell_number: ['Number of highest cell', 'n_cell_max', 'maxCellNumber'],
  box_voltage: ['Box # voltage', 'u_box_#', 'box#Voltage'],
  pack_power: ['Battery power', 'p_batt', 'packPower'],
  hottest_temperature: ['Hottest module', 't_mod_max', 'maxModuleTemp'],
  coldest_temperature: ['Coldest module', 't_mod_min', 'minModuleTemp'],
  brake_pressure_front: ['Brake pressure front', 'p_brk_front', 'brakePressureFront'],
  brake_pressure_rear: ['Brake pressure rear', 'p_brk_rear', 'brakePressureRear'],
  brake_travel: ['Brake pedal travel', 'brk_travel', 'brakePedalTravel'],
  wheel_speed: ['Wheel # speed', 'v_wheel_#', 'wheel#Speed'],
  pedal_supply_1: ['Accelerator supply 1', 'app_sup_1', 'acceleratorSupply1'],
  pedal_supply_2: ['Accelerator supply 2', 'app_sup_2', 'acceleratorSupply2'],
  heater_current: ['Cabin heater current', 'i_heater', 'heaterCurrent'],
  charger_current: ['Charger current', 'i_chgr', 'chargerCurrent'],
  charger_voltage: ['Charger voltage', 'u_chgr', 'chargerVoltage'],
  charger_temperature: ['Charger temperature', 't_chgr', 'chargerTemperature'],
  proximity_resistance: ['Proximity resistance', 'r_prox', 'proximityResistance'],
  pilot_voltage: ['Control pilot voltage', 'u_pilot', 'pilotVoltage'],
  pilot_duty: ['Control pilot duty', 'pilot_duty', 'pilotDuty'],
  charge_lock: ['Charge plug locked', 'plug_locked', 'chargePlugLocked'],
  charge_enable: ['Charging enabled', 'chg_enable', 'chargeEnabled'],
  charge_current_request: ['Charge current request', 'i_chg_req', 'chargeCurrentRequest'],
  charge_voltage_request: ['Charge voltage request', 'u_chg_req', 'chargeVoltageRequest'],
  mains_voltage: ['Mains voltage', 'u_mains', 'mainsVoltage'],
  mains_current: ['Mains current', 'i_mains', 'mainsCurrent'],
  balancing: ['Cell # balancing', 'bal_#', 'cell#Balancing'],
  module_temperature: ['Module sensor # temperature', 't_mod_#', 'moduleTemp#'],
  pack_voltage: ['Battery voltage', 'u_batt', 'packVoltage'],
  pack_current: ['Battery current', 'i_batt', 'packCurrent'],
  link_voltage: ['Inverter link voltage', 'u_link', 'dcLinkVoltage'],
  inverter_dc_current: ['Inverter DC current', 'i_inv_dc', 'inverterDcCurrent'],
  isolation_resistance: ['Insulation resistance', 'r_iso', 'isolationResistance'],
  soc: ['State of charge', 'soc', 'stateOfCharge'],
  charge_limit: ['Charge current limit', 'i_chg_max', 'chargeCurrentLimit'],
  discharge_limit: ['Discharge current limit', 'i_dis_max', 'dischargeCurrentLimit'],
  contactor_precharge: ['Precharge relay', 'k_prechg', 'prechargeRelay'],
  contactor_positive: ['Contactor plus', 'k_plus', 'positiveContactor'],
  contactor_negative: ['Contactor minus', 'k_minus', 'negativeContactor'],
  contactor_positive_feedback: ['Contactor plus feedback', 'k_plus_fb', 'positiveContactorFeedback'],
  contactor_negative_feedback: ['Contactor minus feedback', 'k_minus_fb', 'negativeContactorFeedback'],
  key_on: ['Key on', 'key_on', 'keyOn'],
  charge_plug: ['Charge plug in', 'plug_in', 'chargePlugIn'],
  interlock_closed: ['Interlock loop closed', 'hvil_closed', 'interlockClosed'],
  inertia_closed: ['Inertia switch closed', 'inertia_closed', 'inertiaClosed'],
  drive_ready: ['Ready to drive', 'drv_ready', 'driveReady'],
  selector: ['Direction selector', 'dir_sel', 'gearSelector'],
  brake_switch: ['Brake pedal switch', 'brk_sw', 'brakeSwitch'],
  brake_lamp: ['Brake lamp', 'brk_lamp', 'brakeLamp'],
  coolant_pump: ['Coolant pump', 'pump_on', 'coolantPump'],
  bms_state: ['BMS state', 'bms_status', 'bmsState'],
  bms_faults: ['BMS faults', 'bms_flt', 'bmsFaults'],
  inverter_state: ['Inverter state', 'inv_status', 'inverterState'],
  inverter_faults: ['Inverter faults', 'inv_flt', 'inverterFaults'],
  pedal_track_1: ['Accelerator sensor 1', 'app_1', 'acceleratorSensor1'],
  pedal_track_2: ['Accelerator sensor 2', 'app_2', 'acceleratorSensor2'],
  pedal_position: ['Accelerator pedal', 'app_pos', 'acceleratorPosition'],
  brake_pressure: ['Brake line pressure', 'p_brk', 'brakePressure'],
  speed: ['Road speed', 'v_veh', 'vehicleSpeed'],
  acceleration: ['Longitudinal acceleration', 'a_long', 'longitudinalAcceleration'],
  gradient: ['Road gradient', 'road_grad', 'roadGradient'],
  motor_speed: ['Motor speed', 'n_mot', 'motorSpeed'],
  torque_request: ['Torque request', 'trq_set', 'torqueRequest'],
  torque: ['Motor torque', 'trq_mot', 'motorTorque'],
  inverter_temperature: ['Inverter temperature', 't_inv', 'inverterTemp'],
  motor_temperature: ['Motor temperature', 't_mot', 'motorTemp'],
  coolant_in: ['Coolant in', 't_cool_in', 'coolantTempIn'],
  coolant_out: ['Coolant out', 't_cool_out', 'coolantTempOut'],
  lv_voltage: ['12 V supply', 'u_12v', 'lowVoltageBattery'],
  dcdc_current: ['DC-DC current', 'i_dcdc', 'dcdcCurrent'],
}

/** The box's name for a channel, without its unit. @param first numbers count from 0 or 1. */
export function columnName(id: string, style: NameStyle, first: 0 | 1 = 1): string {
  const number = channelNumber(id)
  const family = number > 0 ? id.slice(0, id.lastIndexOf('.')) : id
  const name = NAMES[family]?.[style === 'words' ? 0 : style === 'snake' ? 1 : 2]
  if (name === undefined) throw new Error(`no column name for ${id}`)
  const counted = number - 1 + first
  return name.replace('#', style === 'words' ? String(counted) : String(counted).padStart(3, '0'))
}

/** A unit as written: value_written = value / factor − offset … in the sense of the catalogue's unit. */
export interface WrittenUnit {
  readonly text: string
  readonly factor: number
  readonly offset: number
}

/** Units other than the program's own that a box may write. written = value · factor + offset. */
const OTHER: Readonly<Record<string, WrittenUnit>> = {
  mV: { text: 'mV', factor: 1000, offset: 0 },
  kPa: { text: 'kPa', factor: 100, offset: 0 },
  MPa: { text: 'MPa', factor: 0.1, offset: 0 },
  psi: { text: 'psi', factor: 1 / 0.06894757293168, offset: 0 },
  mph: { text: 'mph', factor: 1 / 1.609344, offset: 0 },
  'm/s': { text: 'm/s', factor: 1 / 3.6, offset: 0 },
  '°F': { text: '°F', factor: 1.8, offset: 32 },
  MOhm: { text: 'MOhm', factor: 0.001, offset: 0 },
}

const OWN_TEXT: Readonly<Record<string, string>> = { kΩ: 'kOhm', N·m: 'Nm' }

/** @param chosen channel family → another unit, as `{ cell_voltage: 'mV' }`. */
export function writtenUnit(id: string, chosen: Readonly<Record<string, string>> = {}): WrittenUnit {
  const number = channelNumber(id)
  const family = number > 0 ? id.slice(0, id.lastIndexOf('.')) : id
  const other = chosen[family]
  if (other !== undefined) return OTHER[other]!
  const unit = catalogueEntry(id)?.unit ?? ''
  return { text: OWN_TEXT[unit] ?? unit, factor: 1, offset: 0 }
}
