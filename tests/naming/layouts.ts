import type { RawSeries } from '../../shared/raw-log.ts'
import { headerUnit } from '../../src/importers/table/header-unit.ts'

/**
 * Invented layouts: what each column is (id, '-' where it is none of ours) and how it is called there. `#` runs over
 * the cells or sensors. `scale` is how many of the written unit make one of the program's.
 */
export interface Layout {
  readonly name: string
  /** id → column name, or [name, scale, offset]. Numbered ids: id → function of the running number (from 1). */
  readonly columns: readonly (readonly [id: string, name: string, scale?: number, offset?: number])[]
  readonly cells?: { readonly count: number; readonly name: (n: number) => string; readonly scale?: number }
  readonly sensors?: {
    readonly count: number
    readonly name: (n: number) => string
    readonly scale?: number
    readonly offset?: number
  }
  /** Columns that are none of ours, with the values they read. */
  readonly foreign: readonly (readonly [name: string, model: keyof typeof MODELS | 'constant'])[]
}

const N = 600

/** Deterministic noise in −1 … 1. */
function noise(seed: number): (i: number) => number {
  return (i) => {
    const x = Math.sin((i + 1) * 12.9898 + seed * 78.233) * 43758.5453
    return 2 * (x - Math.floor(x)) - 1
  }
}

/** A little drive: key at 10 s, driving from 30 s of 60. */
const drive = Array.from({ length: N }, (_, i) => {
  const t = i / 10
  const moving = t > 30 ? 1 : 0
  const pedal = moving * Math.max(0, Math.sin((t - 30) / 4))
  const brake = moving * Math.max(0, -Math.sin((t - 30) / 4))
  const current = 2 + 180 * pedal - 70 * brake
  const speed = moving * (30 + 25 * Math.sin((t - 32) / 4))
  return { t, moving, pedal, brake, current, speed, on: t > 10 ? 1 : 0, closed: t > 20 ? 1 : 0 }
})

export const MODELS: Readonly<Record<string, (i: number) => number>> = {
  cell_voltage: (i) => 3.9 - 0.0005 * drive[i]!.current,
  lowest_cell_voltage: (i) => 3.88 - 0.0006 * drive[i]!.current,
  highest_cell_voltage: (i) => 3.92 - 0.0004 * drive[i]!.current,
  mean_cell_voltage: (i) => 3.9 - 0.0005 * drive[i]!.current,
  lowest_cell_number: (i) => 7 + (i % 3),
  highest_cell_number: (i) => 21 + (i % 2),
  cell_resistance_reported: () => 1.2,
  balancing: (i) => (i % 97 < 10 ? 1 : 0),
  balancing_on: (i) => (i % 97 < 10 ? 1 : 0),
  module_temperature: (i) => 22 + 0.01 * i,
  hottest_temperature: (i) => 25 + 0.01 * i,
  coldest_temperature: (i) => 21 + 0.01 * i,
  pack_voltage: (i) => 374 - 0.05 * drive[i]!.current,
  box_voltage: (i) => 187 - 0.02 * drive[i]!.current,
  pack_current: (i) => drive[i]!.current,
  inverter_dc_current: (i) => drive[i]!.current - 2,
  phase_current: (i) => 1.7 * Math.abs(drive[i]!.current),
  pack_power: (i) => 374 * drive[i]!.current,
  link_voltage: (i) => drive[i]!.closed * (374 - 0.06 * drive[i]!.current),
  isolation_resistance: (i) => 2600 + (i % 40),
  soc: (i) => 82 - 0.004 * i,
  charge_limit: () => 120,
  discharge_limit: () => 350,
  contactor_precharge: (i) => (i > 180 && i < 205 ? 1 : 0),
  contactor_positive: (i) => drive[i]!.closed,
  contactor_negative: (i) => (i > 180 ? 1 : 0),
  contactor_precharge_command: (i) => (i > 180 && i < 205 ? 1 : 0),
  contactor_positive_command: (i) => drive[i]!.closed,
  contactor_negative_command: (i) => (i > 180 ? 1 : 0),
  contactor_precharge_feedback: (i) => (i > 180 && i < 205 ? 1 : 0),
  contactor_positive_feedback: (i) => drive[i]!.closed,
  contactor_negative_feedback: (i) => (i > 180 ? 1 : 0),
  key_on: (i) => drive[i]!.on,
  charge_plug: () => 0,
  interlock_closed: () => 1,
  inertia_closed: () => 1,
  drive_ready: (i) => (i > 230 ? 1 : 0),
  selector: (i) => (i > 250 ? 1 : 0),
  brake_lamp: (i) => (drive[i]!.brake > 0.1 ? 1 : 0),
  reverse_lamp: () => 0,
  coolant_pump: (i) => drive[i]!.closed,
  bms_state: (i) => drive[i]!.on * 2 + drive[i]!.closed,
  inverter_state: (i) => drive[i]!.on * 4 + drive[i]!.closed,
  bms_faults: () => 0,
  inverter_faults: () => 0,
  pedal_track_1: (i) => 0.85 + 3.3 * drive[i]!.pedal,
  pedal_track_2: (i) => 4.15 - 3.3 * drive[i]!.pedal,
  pedal_supply_1: (i) => 5 + 0.01 * Math.sin(i),
  pedal_position: (i) => 100 * drive[i]!.pedal,
  brake_pressure: (i) => 45 * drive[i]!.brake,
  brake_pressure_front: (i) => 45 * drive[i]!.brake,
  brake_pressure_rear: (i) => 28 * drive[i]!.brake,
  brake_travel: (i) => 60 * drive[i]!.brake,
  brake_switch: (i) => (drive[i]!.brake > 0.05 ? 1 : 0),
  speed: (i) => drive[i]!.speed,
  wheel_speed: (i) => drive[i]!.speed,
  acceleration: (i) => 2.5 * (drive[i]!.pedal - drive[i]!.brake),
  gradient: (i) => 3 * Math.sin(i / 60),
  motor_speed: (i) => 95 * drive[i]!.speed,
  torque_request: (i) => 150 * drive[i]!.pedal - 60 * drive[i]!.brake,
  torque: (i) => 149 * drive[i]!.pedal - 59 * drive[i]!.brake,
  inverter_temperature: (i) => 30 + 0.02 * i,
  motor_temperature: (i) => 35 + 0.03 * i,
  coolant_in: (i) => 24 + 0.005 * i,
  coolant_out: (i) => 25 + 0.007 * i,
  lv_voltage: (i) => 12.6 + 1.2 * drive[i]!.closed,
  dcdc_current: (i) => 15 * drive[i]!.closed,
  heater_current: () => 6,
  charger_current: () => 0,
  charger_voltage: () => 0,
  charger_temperature: (i) => 24 + 0.001 * i,
  dcdc_temperature: (i) => 28 + 0.01 * i,
  traction_active: () => 0,
  cruise_active: (i) => (i > 400 && i < 450 ? 1 : 0),
  hold_active: (i) => (i > 250 && i < 290 ? 1 : 0),
  slope_hold_request: (i) => (i > 250 && i < 290 ? 1 : 0),
  ambient_temperature: (i) => 12 + 0.001 * i,
  cabin_temperature: (i) => 14 + 0.01 * i,
  coolant_flow: (i) => 8 * drive[i]!.closed,
  pump_duty: (i) => 60 * drive[i]!.closed,
  fan_duty: (i) => 35 * drive[i]!.closed + (i % 5),
  pilot_duty: (i) => 26 + (i % 2),
  pilot_voltage: (i) => 6 + (i % 2) / 10,
  proximity_resistance: () => 220,
  charge_lock: (i) => (i > 300 ? 1 : 0),
  charge_enable: (i) => (i > 320 ? 1 : 0),
  contactor_charge: (i) => (i > 320 ? 1 : 0),
  mains_voltage: (i) => 230 + (i % 3),
  mains_current: (i) => 15 + (i % 3) / 10,
  lv_current: (i) => 20 - 30 * drive[i]!.closed,
  box_current: (i) => drive[i]!.current / 2,
  heater_power: (i) => 2000 + 10 * (i % 7),
  cooler_power: (i) => 900 + 10 * (i % 7),
  charger_state: (i) => 1 + drive[i]!.on * 4,
  charge_current_request: (i) => 40 + (i % 3),
  charge_voltage_request: (i) => 398 + (i % 2),
  odometer: (i) => 48211 + 0.01 * i,
  abs_active: () => 0,
}

/** Steps of what boxes write, so that values repeat as real ones do. */
function stepOf(id: string): number {
  if (/cell_voltage$|^pedal_track/.test(id)) return 0.001
  if (/temperature|coolant/.test(id)) return 0.5
  return id === 'isolation_resistance' || id === 'motor_speed' ? 1 : 0.1
}

export function seriesOf(layout: Layout): { series: RawSeries[]; truth: Map<string, string> } {
  const timeS = Float64Array.from(drive, ({ t }) => t)
  const truth = new Map<string, string>()
  const series: RawSeries[] = []
  const add = (truthId: string, model: string, name: string, scale = 1, offset = 0, seed = 0): void => {
    const base = model === 'constant' ? () => 7 : MODELS[model]!
    const wiggle = noise(seed + series.length)
    const step = stepOf(model)
    const quiet =
      model === 'constant' ||
      /^(contactor|key|charge_plug|interlock|inertia|drive_ready|selector|brake_lamp|reverse|coolant_pump|charge_lock|charge_enable|cruise_active|hold_active|slope_hold|charger_state|brake_switch|bms|inverter_state|inverter_faults|balancing|traction|abs|lowest_cell_number|highest_cell_number|charge_limit|discharge_limit)/.test(
        model,
      )
    truth.set(name, truthId)
    series.push({
      name,
      unit: headerUnit(name),
      channel: null,
      timeS,
      values: timeS.map((_, i) => {
        const value = quiet ? base(i) : Math.round((base(i) + step * wiggle(i)) / step) * step
        return Number((value * scale + offset).toPrecision(9))
      }),
      fresh: null,
      labels: null,
      node: null,
    })
  }
  for (const [id, name, scale, offset] of layout.columns)
    add(id, id.replace(/\.\d+$/, ''), name, scale, offset)
  const { cells, sensors } = layout
  if (cells)
    for (let n = 1; n <= cells.count; n++)
      add(`cell_voltage.${n}`, 'cell_voltage', cells.name(n), cells.scale)
  if (sensors)
    for (let n = 1; n <= sensors.count; n++)
      add(`module_temperature.${n}`, 'module_temperature', sensors.name(n), sensors.scale, sensors.offset)
  for (const [name, model] of layout.foreign) add('-', model, name)
  return { series, truth }
}

const two = (n: number): string => String(n).padStart(2, '0')

export const LAYOUTS: readonly Layout[] = [
  {
    name: 'plain words',
    columns: [
      ['odometer', 'Odometer (miles)', 1 / 1.609344],
      ['ambient_temperature', 'Ambient temperature (°F)', 1.8, 32],
      ['pack_voltage', 'Battery voltage (V)'],
      ['pack_current', 'Battery current (A)'],
      ['link_voltage', 'Inverter input voltage (V)'],
      ['soc', 'State of charge (%)'],
      ['speed', 'Road speed (mph)', 1 / 1.609344],
      ['motor_speed', 'Motor speed (rpm)'],
      ['torque', 'Torque delivered (Nm)'],
      ['torque_request', 'Torque demand (Nm)'],
      ['pedal_position', 'Accelerator pedal (%)'],
      ['brake_pressure', 'Brake line pressure (psi)', 14.5],
      ['brake_switch', 'Brake pedal pressed'],
      ['lv_voltage', '12 V battery (V)'],
      ['motor_temperature', 'Motor temperature (°F)', 1.8, 32],
      ['inverter_temperature', 'Controller temperature (°F)', 1.8, 32],
      ['key_on', 'Ignition on'],
      ['lowest_cell_voltage', 'Lowest cell voltage (V)'],
      ['highest_cell_voltage', 'Highest cell voltage (V)'],
      ['hottest_temperature', 'Hottest cell temperature (°F)', 1.8, 32],
      ['charge_limit', 'Maximum charge current (A)'],
      ['discharge_limit', 'Maximum discharge current (A)'],
    ],
    cells: { count: 48, name: (n) => `Cell voltage ${n} (V)` },
    sensors: { count: 8, name: (n) => `Battery temperature ${n} (°F)`, scale: 1.8, offset: 32 },
    foreign: [
      ['Energy used (kWh)', 'soc'],
      ['Charger current (A)', 'charger_current'],
    ].filter(([name]) => name !== 'Charger current (A)') as never,
  },
  {
    name: 'snake, numbered from 0, millivolt',
    columns: [
      ['pack_voltage', 'bms_pack_voltage_mv', 1000],
      ['pack_current', 'bms_pack_current_ma', 1000],
      ['bms_state', 'bms_state'],
      ['bms_faults', 'bms_fault_flags'],
      ['balancing_on', 'bms_balancing_active'],
      ['link_voltage', 'mcu_dc_voltage_v'],
      ['phase_current', 'mcu_phase_current_a'],
      ['inverter_state', 'mcu_state'],
      ['inverter_faults', 'mcu_error_code'],
      ['inverter_temperature', 'mcu_temp_degc'],
      ['motor_temperature', 'motor_temp_degc'],
      ['motor_speed', 'motor_speed_rpm'],
      ['torque', 'motor_torque_actual_nm'],
      ['torque_request', 'motor_torque_command_nm'],
      ['pedal_track_1', 'throttle_0_mv', 1000],
      ['pedal_track_2', 'throttle_1_mv', 1000],
      ['brake_switch', 'brake_switch'],
      ['brake_pressure', 'brake_pressure_kpa', 100],
      ['contactor_precharge', 'precharge_relay'],
      ['contactor_positive', 'main_relay_pos'],
      ['contactor_negative', 'main_relay_neg'],
      ['isolation_resistance', 'insulation_kohm'],
      ['speed', 'vehicle_speed_kmh'],
      ['drive_ready', 'ready_to_drive'],
      ['dcdc_current', 'dcdc_current_a'],
      ['interlock_closed', 'hvil_ok'],
    ],
    cells: { count: 96, name: (n) => `cell_voltage_${n - 1}_mv`, scale: 1000 },
    sensors: { count: 12, name: (n) => `module_temp_${n - 1}_degc` },
    foreign: [
      ['charger_temp_limit_degc', 'constant'],
      ['bms_board_temp_degc', 'coolant_in'],
      ['loop_counter', 'motor_speed'],
      ['bms_heartbeat', 'bms_state'],
    ],
  },
  {
    name: 'camel case',
    columns: [
      ['cabin_temperature', 'cabinTemperature'],
      ['pack_voltage', 'hvBatteryVoltage'],
      ['pack_current', 'hvBatteryCurrent'],
      ['link_voltage', 'dcLinkVoltage'],
      ['isolation_resistance', 'insulationResistance'],
      ['soc', 'batterySoc'],
      ['charge_limit', 'maxChargeCurrent'],
      ['discharge_limit', 'maxDischargeCurrent'],
      ['key_on', 'keySwitch'],
      ['charge_plug', 'chargePlugConnected'],
      ['interlock_closed', 'hvilClosed'],
      ['inertia_closed', 'crashSwitchOk'],
      ['selector', 'gearSelector'],
      ['brake_switch', 'brakePedalActive'],
      ['contactor_precharge_command', 'prechargeContactorCmd'],
      ['contactor_positive_command', 'positiveContactorCmd'],
      ['contactor_negative_command', 'negativeContactorCmd'],
      ['contactor_positive_feedback', 'positiveContactorFb'],
      ['contactor_negative_feedback', 'negativeContactorFb'],
      ['pedal_track_1', 'acceleratorSensor1'],
      ['pedal_track_2', 'acceleratorSensor2'],
      ['pedal_position', 'acceleratorPercent'],
      ['torque_request', 'torqueSetpoint'],
      ['torque', 'torqueFeedback'],
      ['motor_speed', 'motorRpm'],
      ['speed', 'vehicleSpeed'],
      ['coolant_in', 'coolantTempIn'],
      ['coolant_out', 'coolantTempOut'],
      ['coolant_pump', 'coolantPumpOn'],
      ['charger_current', 'chargerCurrent'],
      ['charger_voltage', 'chargerVoltage'],
      ['heater_current', 'cabinHeaterCurrent'],
    ],
    cells: { count: 72, name: (n) => `cellVoltage${n}` },
    sensors: { count: 6, name: (n) => `moduleTemperature${n}` },
    foreign: [
      ['cellVoltageDelta', 'constant'],
      ['driveModeName', 'constant'],
    ],
  },
  {
    name: 'dotted paths, cells by module',
    columns: [
      ['pack_voltage', 'vehicle.battery.voltage'],
      ['pack_current', 'vehicle.battery.current'],
      ['soc', 'vehicle.battery.soc'],
      ['bms_state', 'vehicle.bms.state'],
      ['motor_temperature', 'vehicle.motor.temperature'],
      ['motor_speed', 'vehicle.motor.rpm'],
      ['torque', 'vehicle.motor.torque'],
      ['torque_request', 'vehicle.motor.torque_request'],
      ['inverter_temperature', 'vehicle.inverter.temperature'],
      ['link_voltage', 'vehicle.inverter.dc_link'],
      ['speed', 'vehicle.speed'],
      ['pedal_position', 'vehicle.pedal.position'],
      ['brake_pressure_front', 'vehicle.brake.pressure.front'],
      ['brake_pressure_rear', 'vehicle.brake.pressure.rear'],
      ['wheel_speed.1', 'vehicle.wheels.fl.speed'],
      ['wheel_speed.2', 'vehicle.wheels.fr.speed'],
      ['wheel_speed.3', 'vehicle.wheels.rl.speed'],
      ['wheel_speed.4', 'vehicle.wheels.rr.speed'],
      ['lv_voltage', 'vehicle.aux.voltage'],
      ['acceleration', 'vehicle.imu.accel_x'],
    ],
    cells: {
      count: 84,
      name: (n) => `vehicle.battery.M${1 + Math.floor((n - 1) / 12)}C${two(1 + ((n - 1) % 12))}`,
    },
    sensors: {
      count: 14,
      name: (n) => `vehicle.battery.M${1 + Math.floor((n - 1) / 2)}T${1 + ((n - 1) % 2)}`,
    },
    foreign: [
      ['vehicle.gps.altitude', 'pack_voltage'],
      ['vehicle.imu.gyro_z', 'acceleration'],
    ],
  },
  {
    name: 'terse electrical letters',
    columns: [
      ['pack_voltage', 'Vbat'],
      ['pack_current', 'Ibat'],
      ['link_voltage', 'Vdclink'],
      ['motor_temperature', 'Tmot'],
      ['inverter_temperature', 'Tinv'],
      ['torque', 'Tq_act'],
      ['torque_request', 'Tq_req'],
      ['motor_speed', 'n_mot'],
      ['soc', 'SOC'],
      ['pedal_track_1', 'APPS1'],
      ['pedal_track_2', 'APPS2'],
      ['brake_pressure', 'BrkPress'],
      ['isolation_resistance', 'R_iso'],
      ['speed', 'VehSpd'],
      ['lv_voltage', 'V_12V'],
      ['contactor_precharge', 'K_prech'],
      ['contactor_positive', 'K_plus'],
      ['contactor_negative', 'K_minus'],
    ],
    cells: { count: 90, name: (n) => `Vc${two(n)}` },
    sensors: { count: 10, name: (n) => `Tm${two(n)}` },
    foreign: [
      ['Tamb', 'coolant_in'],
      ['CRC', 'motor_speed'],
    ],
  },
  {
    name: 'two boxes with letters',
    columns: [
      ['pack_voltage', 'Pack total voltage [V]'],
      ['pack_current', 'Pack current [A]'],
      ['box_voltage.1', 'Box 1 voltage [V]'],
      ['box_voltage.2', 'Box 2 voltage [V]'],
      ['lowest_cell_voltage', 'Cell min [V]'],
      ['highest_cell_voltage', 'Cell max [V]'],
      ['mean_cell_voltage', 'Cell average [V]'],
      ['lowest_cell_number', 'Cell min number'],
      ['highest_cell_number', 'Cell max number'],
      ['hottest_temperature', 'Max module temperature [°C]'],
      ['coldest_temperature', 'Min module temperature [°C]'],
      ['isolation_resistance', 'IR [MOhm]', 1e-3],
      ['contactor_positive', 'Main contactor + closed'],
      ['contactor_negative', 'Main contactor - closed'],
      ['contactor_precharge', 'Precharge contactor closed'],
    ],
    cells: { count: 60, name: (n) => (n <= 36 ? `Box A cell ${n} [V]` : `Box B cell ${n - 36} [V]`) },
    sensors: { count: 10, name: (n) => (n <= 6 ? `Box A temp ${n} [°C]` : `Box B temp ${n - 6} [°C]`) },
    foreign: [
      ['Cell delta [mV]', 'charge_limit'],
      ['Cycles', 'constant'],
    ],
  },
  {
    name: 'German',
    columns: [
      ['ambient_temperature', 'Aussentemperatur [°C]'],
      ['pack_voltage', 'Batteriespannung [V]'],
      ['pack_current', 'Batteriestrom [A]'],
      ['link_voltage', 'Zwischenkreisspannung [V]'],
      ['soc', 'Ladezustand [%]'],
      ['speed', 'Geschwindigkeit [km/h]'],
      ['motor_speed', 'Motordrehzahl [1/min]'],
      ['torque', 'Drehmoment Ist [Nm]'],
      ['torque_request', 'Drehmoment Soll [Nm]'],
      ['pedal_position', 'Fahrpedal [%]'],
      ['brake_pressure', 'Bremsdruck [bar]'],
      ['motor_temperature', 'Motortemperatur [°C]'],
      ['inverter_temperature', 'Umrichter Temperatur [°C]'],
      ['isolation_resistance', 'Isolationswiderstand [kOhm]'],
      ['lv_voltage', 'Bordnetz Spannung [V]'],
      ['contactor_precharge', 'Vorladerelais'],
    ],
    cells: { count: 48, name: (n) => `Zellspannung ${n} [V]` },
    sensors: { count: 8, name: (n) => `Modultemperatur ${n} [°C]` },
    foreign: [],
  },
  {
    name: 'French',
    columns: [
      ['pack_voltage', 'Tension batterie (V)'],
      ['pack_current', 'Courant batterie (A)'],
      ['speed', 'Vitesse (km/h)'],
      ['motor_speed', 'Régime moteur (tr/min)'],
      ['torque', 'Couple moteur (Nm)'],
      ['motor_temperature', 'Température moteur (°C)'],
      ['brake_pressure', 'Pression frein (bar)'],
    ],
    cells: { count: 24, name: (n) => `Tension cellule ${n} (V)` },
    foreign: [],
  },
  {
    name: 'upper case bus style with traps',
    columns: [
      ['pack_voltage', 'BMS_PACK_V'],
      ['pack_current', 'BMS_PACK_I'],
      ['charge_limit', 'BMS_CCL'],
      ['discharge_limit', 'BMS_DCL'],
      ['soc', 'BMS_SOC'],
      ['inverter_dc_current', 'INV_DC_CURRENT'],
      ['phase_current', 'INV_PHASE_CURRENT'],
      ['link_voltage', 'INV_DC_VOLTAGE'],
      ['inverter_temperature', 'INV_TEMP'],
      ['motor_temperature', 'MOT_TEMP'],
      ['torque', 'INV_TORQUE_FB'],
      ['torque_request', 'VCU_TORQUE_CMD'],
      ['pedal_track_1', 'VCU_APPS_1'],
      ['pedal_track_2', 'VCU_APPS_2'],
      ['charger_current', 'OBC_OUTPUT_CURRENT'],
      ['charger_voltage', 'OBC_OUTPUT_VOLTAGE'],
      ['charger_temperature', 'OBC_TEMP'],
      ['dcdc_temperature', 'DCDC_TEMP'],
      ['dcdc_current', 'DCDC_OUT_CURRENT'],
      ['traction_active', 'TC_ACTIVE'],
      ['abs_active', 'ABS_ACTIVE'],
      ['brake_lamp', 'BRAKE_LAMP'],
      ['reverse_lamp', 'REVERSE_LAMP'],
    ],
    cells: { count: 100, name: (n) => `BMS_CELL_${String(n).padStart(3, '0')}_V` },
    sensors: { count: 20, name: (n) => `BMS_TEMP_${two(n)}` },
    foreign: [
      ['INV_CAPACITOR_TEMP_LIMIT', 'constant'],
      ['BMS_CELL_COUNT', 'constant'],
      ['OBC_INPUT_FREQUENCY', 'constant'],
      ['DCDC_OUT_VOLTAGE_SETPOINT', 'constant'],
    ],
  },
  {
    name: 'cell extras beside cells',
    columns: [
      ['pack_voltage', 'Pack Voltage'],
      ['pack_current', 'Pack Current'],
      ['pack_power', 'Pack Power [kW]', 1e-3],
      ...Array.from(
        { length: 24 },
        (_, k) => [`cell_resistance_reported.${k + 1}`, `Cell resistance ${k + 1} [mOhm]`] as const,
      ),
      ...Array.from({ length: 24 }, (_, k) => [`balancing.${k + 1}`, `Cell balancing ${k + 1}`] as const),
    ],
    cells: { count: 24, name: (n) => `Cell voltage ${n}` },
    foreign: [
      ...Array.from({ length: 24 }, (_, k) => [`Cell OCV ${k + 1}`, 'cell_voltage'] as const),
      ['Cell voltage spread', 'constant'],
      ['SOH', 'soc'],
    ],
  },
  {
    name: 'gas pedal and odd units',
    columns: [
      ['pack_voltage', 'HV voltage, V'],
      ['pack_current', 'HV current, A'],
      ['pedal_track_1', 'Gas pedal A, counts', 200],
      ['pedal_track_2', 'Gas pedal B, counts', 200],
      ['speed', 'GPS speed m/s', 1 / 3.6],
      ['brake_pressure', 'Brake MPa', 0.1],
      ['motor_temperature', 'Motor temp K', 1, 273.15],
      ['coolant_in', 'Water in K', 1, 273.15],
      ['coolant_out', 'Water out K', 1, 273.15],
      ['acceleration', 'Long. acceleration g', 1 / 9.80665],
      ['lv_voltage', 'Aux battery, V'],
      ['brake_travel', 'Brake pedal travel, %'],
    ],
    cells: { count: 30, name: (n) => `Cell ${n}, mV`, scale: 1000 },
    sensors: { count: 5, name: (n) => `Pack temp ${n} K`, offset: 273.15 },
    foreign: [['Fuel level, %', 'soc']],
  },
  {
    name: 'glued lower case',
    columns: [
      ['cabin_temperature', 'cabintemp'],
      ['pack_voltage', 'packvoltage'],
      ['pack_current', 'packcurrent'],
      ['link_voltage', 'dcbusvoltage'],
      ['motor_speed', 'motorrpm'],
      ['motor_temperature', 'motortemp'],
      ['inverter_temperature', 'invtemp'],
      ['pedal_position', 'throttlepos'],
      ['brake_switch', 'brakeswitch'],
      ['coolant_in', 'coolantin'],
      ['coolant_out', 'coolantout'],
      ['torque_request', 'torquereq'],
      ['torque', 'torqueact'],
    ],
    cells: { count: 40, name: (n) => `cellv${n}` },
    sensors: { count: 4, name: (n) => `modtemp${n}` },
    foreign: [],
  },
  {
    name: 'cells by box with running numbers, numbers first',
    columns: [
      ['pack_voltage', 'U_Batt'],
      ['pack_current', 'I_Batt'],
      ['key_on', 'KL15'],
      ['isolation_resistance', 'Riso_kOhm'],
      ['drive_ready', 'Ready'],
      ['selector', 'Direction'],
      ['interlock_closed', 'Interlock'],
      ['inertia_closed', 'Inertia_Switch'],
      ['charge_plug', 'Proximity_Pilot'],
    ],
    cells: { count: 64, name: (n) => `Box${1 + Math.floor((n - 1) / 32)}.Cell${two(n)}` },
    sensors: { count: 8, name: (n) => `Box${1 + Math.floor((n - 1) / 4)}.Temp${n}` },
    foreign: [['Door_Switch', 'key_on']],
  },
  {
    name: 'other measurements that look alike',
    columns: [
      ['cabin_temperature', 'Cabin temperature [°C]'],
      ['pack_voltage', 'Main battery voltage'],
      ['pack_current', 'Main battery current'],
      ['motor_temperature', 'Stator temperature [°C]'],
      ['speed', 'Speed [kph]'],
    ],
    cells: { count: 16, name: (n) => `cell${n}` },
    foreign: [
      ['Gearbox temperature [°C]', 'coolant_in'],
      ['Steering angle', 'acceleration'],
      ['Charge current [A]', 'charger_current'],
      ['Tyre pressure [bar]', 'constant'],
      ['Ambient pressure [mbar]', 'pack_voltage'],
      ['Battery capacity [Ah]', 'constant'],
      ['Lateral acceleration [m/s²]', 'acceleration'],
      ['Fan speed [rpm]', 'motor_speed'],
      ['Seat heater current [A]', 'heater_current'],
      ['Average speed [km/h]', 'speed'],
      ['Target speed [km/h]', 'speed'],
    ],
  },
]
