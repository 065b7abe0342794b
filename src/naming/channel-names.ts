import type { FamilyId, SingleId } from '../../shared/channels.ts'

/**
 * How each channel is called: meanings (see `vocabulary.ts`) that a name needs, and others that it may carry beside
 * them. A known meaning that a rule neither needs nor allows speaks against it, so "charger current" never becomes the
 * pack's. `a/b` is either. One line a way to call it; `sure` is what a perfect match is worth.
 */
export interface NameRule {
  readonly id: string
  readonly need: readonly (readonly string[])[]
  readonly may: ReadonlySet<string>
  readonly sure: number
  /** The number that the name must carry (pedal track 1, 2). */
  readonly number: number | null
}

/** Allowed in every name. */
const ALWAYS = 'vehicle'

const PACK = 'hv dc total bms pack main actual traction voltage'
const SWITCH = 'on switch state feedback command'

/** One way a channel is called. */
type Way = readonly [need: string, may?: string, sure?: number]

/** id: need; may; sureness. A channel of the catalogue without a row does not compile. */
const TABLE: Readonly<Record<SingleId, readonly Way[]>> = {
  lowest_cell_voltage: [
    ['min cell voltage', 'pack bms hv module'],
    ['min cell', 'pack bms hv voltage', 0.9],
  ],
  highest_cell_voltage: [
    ['max cell voltage', 'pack bms hv module'],
    ['max cell', 'pack bms hv voltage', 0.9],
  ],
  mean_cell_voltage: [
    ['mean cell voltage', 'pack bms hv module'],
    ['mean cell', 'pack bms hv', 0.9],
  ],
  lowest_cell_number: [
    ['min cell number', 'pack bms voltage number', 0.95],
    ['cell number', 'min pack bms voltage', 0.2],
  ],
  highest_cell_number: [['max cell number', 'pack bms voltage number', 0.95]],
  balancing_on: [['balancing', `bms cell pack ${SWITCH}`]],
  hottest_temperature: [
    ['max/hot temperature', 'pack bms hv cell module box hot max'],
    ['hot module/cell/pack', 'temperature bms', 0.85],
  ],
  coldest_temperature: [
    ['min/cold temperature', 'pack bms hv cell module box cold min'],
    ['cold module/cell/pack', 'temperature bms', 0.85],
  ],
  pack_voltage: [
    ['pack voltage', PACK],
    ['bms voltage', PACK, 0.85],
    ['total voltage', PACK, 0.8],
    ['total cell voltage', PACK, 0.75],
    ['hv voltage', PACK, 0.72],
  ],
  pack_current: [
    ['pack current', PACK],
    ['bms current', PACK, 0.88],
    ['total current', PACK, 0.75],
    ['hv current', PACK, 0.78],
    ['shunt current', PACK, 0.75],
    ['traction current', PACK, 0.8],
    ['main current', PACK, 0.7],
    ['current', 'actual', 0.55],
  ],
  inverter_dc_current: [
    ['inverter dc current', 'link in actual hv'],
    ['inverter current', 'dc link in actual hv', 0.85],
    ['link current', 'inverter dc hv', 0.8],
    ['dc current', 'hv', 0.62],
  ],
  phase_current: [
    ['phase current', 'motor inverter actual dc'],
    ['motor current', 'phase actual inverter', 0.88],
  ],
  pack_power: [
    ['pack power', PACK],
    ['bms power', PACK, 0.8],
    ['hv power', PACK, 0.75],
    ['dc power', 'pack link', 0.6],
  ],
  link_voltage: [
    ['link voltage', 'inverter dc hv in actual motor'],
    ['inverter voltage', 'dc hv in link actual', 0.88],
    ['dc voltage', 'inverter link hv', 0.62],
    ['link', 'dc inverter hv', 0.6],
    ['vdc', 'inverter hv', 0.6],
  ],
  isolation_resistance: [
    ['insulation resistance', 'hv pack bms actual'],
    ['insulation', 'hv pack bms monitor actual resistance', 0.85],
  ],
  soc: [
    ['soc', 'pack bms hv actual travel'],
    ['charge state travel', 'pack bms hv', 0.85],
  ],
  charge_limit: [
    ['charge limit current', 'pack bms hv max actual limit dc'],
    ['charge limit', 'pack bms hv max current', 0.88],
  ],
  discharge_limit: [
    ['discharge limit current', 'pack bms hv max actual limit dc'],
    ['discharge limit', 'pack bms hv max current', 0.88],
  ],
  contactor_precharge: [
    ['precharge contactor', 'hv state on pack bms closed'],
    ['precharge', 'hv state on pack bms closed', 0.85],
  ],
  contactor_positive: [
    ['positive contactor', 'hv main state on pack bms'],
    ['main contactor', 'hv state on pack bms', 0.6],
    ['main positive', 'hv state on pack bms contactor', 0.8],
  ],
  contactor_negative: [
    ['negative contactor', 'hv main state on pack bms'],
    ['main negative', 'hv state on pack bms contactor', 0.8],
  ],
  contactor_precharge_command: [
    ['precharge command', 'contactor hv duty pack bms on command'],
    ['precharge duty', 'contactor hv command pack bms travel'],
  ],
  contactor_positive_command: [
    ['positive contactor command', 'hv main duty pack bms on command'],
    ['positive contactor duty', 'hv main command pack bms travel'],
    ['main contactor command', 'hv duty pack bms', 0.6],
  ],
  contactor_negative_command: [
    ['negative contactor command', 'hv main duty pack bms on command'],
    ['negative contactor duty', 'hv main command pack bms travel'],
  ],
  contactor_precharge_feedback: [
    ['precharge feedback', 'contactor hv pack bms on feedback state'],
    ['precharge contactor state', 'hv pack bms on', 0.6],
  ],
  contactor_positive_feedback: [
    ['positive contactor feedback', 'hv main pack bms on feedback state'],
    ['positive contactor state', 'hv main pack bms on', 0.7],
    ['main contactor feedback', 'hv pack bms state', 0.6],
  ],
  contactor_negative_feedback: [
    ['negative contactor feedback', 'hv main pack bms on feedback state'],
    ['negative contactor state', 'hv main pack bms on', 0.7],
  ],
  key_on: [['key', `${SWITCH} travel key in`]],
  charge_plug: [
    ['charge plug', `${SWITCH} charger charge in plug`],
    ['charger plug', `${SWITCH} charge in plug`],
    ['plug', `${SWITCH} in plug`, 0.85],
    ['charger on', `${SWITCH} in`, 0.4],
  ],
  interlock_closed: [
    ['interlock', `${SWITCH} hv coolant pack`],
    ['interlock faults', `${SWITCH} hv pack`, 0.85],
  ],
  inertia_closed: [
    ['inertia', `${SWITCH} `],
    ['inertia faults', `${SWITCH} `, 0.85],
  ],
  drive_ready: [
    ['ready', `${SWITCH} inverter hv ready enable lamp`, 0.88],
    ['inverter enable', `${SWITCH}`, 0.4],
  ],
  selector: [['selector', 'switch travel state selector request actual reverse on']],
  brake_lamp: [['brake lamp', 'on state command request']],
  reverse_lamp: [['reverse lamp', 'on state command request']],
  coolant_pump: [
    ['coolant pump', `${SWITCH} duty`],
    ['pump', `${SWITCH}`, 0.7],
  ],
  bms_state: [
    ['bms state', 'pack'],
    ['pack state', 'bms', 0.6],
  ],
  inverter_state: [['inverter state', 'motor']],
  bms_faults: [
    ['bms faults', 'pack state number'],
    ['pack faults', 'bms state number', 0.7],
  ],
  inverter_faults: [['inverter faults', 'motor state number']],
  pedal_supply_1: [['pedal supply', 'voltage track', 0.95]],
  pedal_supply_2: [['pedal supply', 'voltage track', 0.95]],
  pedal_track_1: [['pedal', 'track voltage travel pedal', 0.95]],
  pedal_track_2: [['pedal', 'track voltage travel pedal', 0.95]],
  pedal_position: [
    ['pedal travel', 'pedal actual travel'],
    ['pedal', 'pedal actual request', 0.85],
  ],
  brake_pressure: [
    ['brake pressure', 'brake pedal total travel'],
    ['pressure', '', 0.5],
  ],
  brake_pressure_front: [['brake pressure front', 'brake']],
  brake_pressure_rear: [['brake pressure rear', 'brake']],
  brake_travel: [['brake travel', 'pedal brake']],
  brake_switch: [
    ['brake switch', `${SWITCH} pedal lamp brake`],
    ['brake on', `${SWITCH} pedal lamp brake`, 0.88],
    ['brake pedal', `${SWITCH}`, 0.85],
    ['brake', `${SWITCH} pedal`, 0.85],
  ],
  speed: [
    ['vehicle speed', 'speed vehicle actual'],
    ['speed', 'actual vehicle', 0.85],
  ],
  acceleration: [
    ['acceleration longitudinal', 'vehicle'],
    ['acceleration', 'vehicle', 0.85],
  ],
  gradient: [['gradient', 'travel vehicle']],
  motor_speed: [
    ['motor speed', 'rpm actual inverter'],
    ['motor rpm', 'speed actual inverter'],
    ['rpm', 'actual', 0.85],
    ['inverter speed', 'rpm motor actual', 0.8],
    ['inverter rpm', 'motor speed actual', 0.85],
  ],
  torque_request: [['torque request', 'motor inverter request command']],
  torque: [
    ['torque', 'motor inverter actual feedback', 0.88],
    ['torque actual', 'motor inverter actual feedback'],
    ['torque feedback', 'motor inverter actual feedback'],
  ],
  inverter_temperature: [['inverter temperature', 'actual inverter']],
  motor_temperature: [
    ['motor temperature', 'actual motor'],
    ['motor temperature', 'actual motor inverter', 0.8],
  ],
  coolant_in: [['coolant in', 'temperature coolant pack inverter motor']],
  coolant_out: [['coolant out', 'temperature coolant pack inverter motor']],
  lv_voltage: [
    ['lv voltage', 'pack supply dc lv bms actual'],
    ['lv', 'pack supply dc', 0.8],
    ['supply voltage', 'lv', 0.6],
    ['pack voltage', '', 0.5],
  ],
  dcdc_current: [['dcdc current', 'out lv dc actual dcdc']],
  heater_current: [['heater current', 'actual dc cabin']],
  charger_current: [['charger current', 'actual dc out charger pack in', 0.95]],
  charger_voltage: [['charger voltage', 'actual dc out charger pack', 0.95]],
  charger_temperature: [['charger temperature', 'actual']],
  dcdc_temperature: [['dcdc temperature', 'actual dcdc']],
  traction_active: [['tractioncontrol', 'on state feedback traction']],
  abs_active: [['abs', 'on state feedback brake']],
  cruise_active: [
    ['cruise on', 'on state command', 0.95],
    ['cruise', 'state command', 0.85],
  ],
  hold_active: [['hold', 'on state motor hold slope']],
  slope_hold_request: [
    ['slope hold request', 'slope hold on state'],
    ['slope hold', 'slope hold', 0.6],
  ],
  ambient_temperature: [['ambient temperature', 'ambient in']],
  cabin_temperature: [['cabin temperature', 'cabin in actual']],
  coolant_flow: [['coolant flow', 'coolant actual inverter motor pack']],
  pump_duty: [
    ['pump duty', 'coolant request command travel'],
    ['pump travel', 'coolant request command duty', 0.85],
    ['pump', 'coolant request command duty', 0.6],
  ],
  fan_duty: [
    ['fan duty', 'coolant request command travel speed'],
    ['fan', 'coolant request command travel duty speed', 0.8],
  ],
  pilot_duty: [['pilot duty', 'travel charge plug charger']],
  pilot_voltage: [['pilot voltage', 'charge plug charger actual']],
  proximity_resistance: [['proximity resistance', 'charge plug proximity resistance charger']],
  charge_lock: [['charge/plug/charger lock', 'on state charge plug charger lock actual feedback']],
  charge_enable: [
    ['charge enable', 'on state charger enable'],
    ['charger enable', 'on state charge enable', 0.88],
    ['charge on', 'state charger', 0.5],
  ],
  contactor_charge: [['charge/charger contactor', 'on state hv dc feedback command positive']],
  mains_voltage: [
    ['mains voltage', 'charger in actual phase'],
    ['charger in voltage', 'phase mains', 0.7],
  ],
  mains_current: [
    ['mains current', 'charger in actual phase'],
    ['charger phase current', 'in mains', 0.9],
  ],
  lv_current: [['lv current', 'pack supply dc actual bms']],
  heater_power: [
    ['heater power', 'actual hv cabin dc'],
    ['cabin heater power', 'actual hv dc'],
  ],
  cooler_power: [['cooler power', 'actual hv cabin dc']],
  heater_request: [
    ['heater request', 'hv cabin dc power on enable command request state'],
    ['heater enable', 'hv cabin dc on command state', 0.8],
  ],
  cooler_request: [
    ['cooler request', 'hv cabin dc power on enable command request state'],
    ['cooler enable', 'hv cabin dc on command state', 0.8],
  ],
  charger_state: [['charger state', 'charge number']],
  charge_current_request: [
    ['charge current request', 'charger pack bms dc request max limit'],
    ['charger current request', 'charge pack bms dc request max limit', 0.9],
  ],
  charge_voltage_request: [
    ['charge voltage request', 'charger pack bms dc request max limit'],
    ['charger voltage request', 'charge pack bms dc request max limit', 0.9],
  ],
  odometer: [['odometer', 'total']],
}

/** Families: channels with a number each. */
const FAMILIES: Readonly<Record<FamilyId, readonly Way[]>> = {
  cell_voltage: [
    ['cell voltage', 'pack bms module box hv actual front rear'],
    ['cell', 'pack bms module box hv voltage front rear', 0.9],
    ['module cell', 'pack bms box hv voltage front rear', 0.9],
    ['voltage', 'bms', 0.6],
  ],
  cell_resistance_reported: [
    ['cell resistance', 'pack bms module box hv insulation actual front rear', 0.95],
  ],
  balancing: [
    ['cell balancing', 'pack bms module box on switch state command front rear', 0.95],
    ['balancing', 'cell pack bms module box on switch state command front rear', 0.9],
  ],
  module_temperature: [
    ['module temperature', 'pack bms box cell hv track actual module front rear'],
    ['cell temperature', 'pack bms box module hv track actual front rear', 0.88],
    ['pack temperature', 'bms box module hv track actual front rear', 0.9],
    ['box temperature', 'bms pack module hv track actual front rear', 0.85],
    ['bms temperature', 'pack module track actual', 0.7],
    ['temperature', 'track', 0.6],
  ],
  box_voltage: [
    ['box voltage', 'pack bms hv actual'],
    ['module voltage', 'pack bms hv actual', 0.75],
  ],
  box_current: [
    ['box current', 'pack bms hv actual'],
    ['module current', 'pack bms hv actual', 0.75],
  ],
  wheel_speed: [['wheel speed', 'actual vehicle front rear']],
}

const expand = (table: Readonly<Record<string, readonly Way[]>>, always: string): NameRule[] =>
  Object.entries(table).flatMap(([id, ways]) =>
    ways.map(([need, may = '', sure = 0.95]) => ({
      id,
      need: need.split(' ').map((each) => each.split('/')),
      may: new Set(`${always} ${may}`.split(' ').filter((each) => each !== '')),
      sure,
      number: /^pedal_(track|supply)_[12]$/.test(id) ? Number(id.slice(-1)) : null,
    })),
  )

export const NAME_RULES: readonly NameRule[] = expand(TABLE, ALWAYS)
export const FAMILY_RULES: readonly NameRule[] = expand(FAMILIES, `${ALWAYS} number`)
