import { VEHICLE_WORDS } from '../../shared/vehicle-words.ts'
/** How a field of the vehicle file is written in the form. */
export type FieldKind =
  | 'text'
  | 'number'
  | 'numbers'
  | 'pair'
  | 'yes-no'
  | 'yes-no-pair'
  | 'choice'
  | 'choices'
  | 'words'
  | 'lists'
  | 'pairs'
  | 'json'

export interface VehicleField {
  /** Where it stands in the vehicle file: `pack.cells`. */
  readonly path: string
  readonly label: string
  readonly unit: string
  readonly kind: FieldKind
  readonly choices?: readonly string[]
  readonly hint?: string
}

const field = (
  path: string,
  label: string,
  unit: string,
  kind: FieldKind,
  hint?: string,
  choices?: readonly string[],
): VehicleField => ({
  path,
  label,
  unit,
  kind,
  ...(hint === undefined ? {} : { hint }),
  ...(choices === undefined ? {} : { choices }),
})

const PLACES = ['cell', 'busbar', 'plate', 'air']

/** Every field of the vehicle file, by part of the car. A test holds this against the schema. */
export const VEHICLE_FIELDS: readonly (readonly [part: string, fields: readonly VehicleField[]])[] = [
  [
    'The car',
    [
      field('name', 'Name', '', 'text'),
      field('kit', 'Kit', '', 'text'),
      field('record.registration', 'Registration', '', 'text', 'printed on papers'),
      field('record.vin', 'VIN', '', 'text'),
      field('record.customer', 'Customer', '', 'text'),
      field('record.odometer_km', 'Kilometres', 'km', 'number'),
      field('car.mass_kg', VEHICLE_WORDS['car.mass_kg'], 'kg', 'number'),
      field('car.mass_laden_kg', 'Mass, laden', 'kg', 'number'),
      field('car.wheel_radius_m', VEHICLE_WORDS['car.wheel_radius_m'], 'm', 'number'),
      field('car.gear_ratio', VEHICLE_WORDS['car.gear_ratio'], '', 'numbers', 'one, or one a gear'),
      field('controller_max_nm', 'Most torque of the controller', 'N·m', 'number'),
      field('lv_chemistry', '12 V battery', '', 'choice', undefined, ['lead', 'lfp']),
      field('car.drag_area_m2', 'Drag area', 'm²', 'number'),
      field('car.rolling_coefficient', 'Rolling resistance', '', 'number'),
      field('car.speed_from', 'Speed is read from', '', 'choice', undefined, ['motor', 'wheel', 'position']),
      field('car.driven_axle', VEHICLE_WORDS['car.driven_axle'], '', 'text', 'front, rear or both'),
      field('car.wheelbase_m', VEHICLE_WORDS['car.wheelbase_m'], 'm', 'number'),
      field('car.front_mass_share', VEHICLE_WORDS['car.front_mass_share'], '', 'number', '0 to 1'),
      field('car.centre_of_gravity_m', 'Height of the centre of gravity', 'm', 'number'),
      field('car.torque_error_percent', 'Tolerance of the inverter’s torque', '%', 'number', 'usual: 8'),
      field(
        'car.rotating_mass_factor',
        'Mass with what turns, over mass',
        '',
        'number',
        'usual: 1.03 to 1.06',
      ),
      field('car.inverter_temperature_max', VEHICLE_WORDS['car.inverter_temperature_max'], '°C', 'number'),
      field('car.motor_temperature_max', VEHICLE_WORDS['car.motor_temperature_max'], '°C', 'number'),
    ],
  ],
  [
    'Pack',
    [
      field('pack.cells', 'Cells in series', '', 'number'),
      field('pack.parallel_cells', 'Cells in parallel', '', 'number'),
      field('pack.cells_per_module', 'Cells a module', '', 'numbers', 'one figure, or one a module'),
      field('pack.box_of_module', 'Box of each module', '', 'words', 'front, front, rear …'),
      field(
        'pack.cooling_group_of_module',
        'Cooling group of each module',
        '',
        'words',
        'plate type and box',
      ),
      field('pack.cooling_order', 'Order of cooling', '', 'lists', 'modules upstream first; a line a branch'),
      field('pack.sensors_of_module', 'Sensors of each module', '', 'lists', 'a line a module'),
      field(
        'pack.sensor_place_of_sensor',
        'Place of each sensor',
        '',
        'choices',
        'cell, busbar, plate or air',
        PLACES,
      ),
      field(
        'pack.links',
        'Links of known length',
        '',
        'json',
        '[{ "after_cell": 12, "length_m": 0.4, "section_mm2": 35 }]',
      ),
      field('pack.long_busbar_after_cells', 'Longer busbar or cable after cells', '', 'numbers'),
      field('pack.joint_read_with', 'A joint is read with its', '', 'choice', 'lower or upper cell', [
        'lower',
        'upper',
      ]),
      field(
        'pack.end_joints_read',
        'Joints at the pack’s ends are read',
        '',
        'yes-no-pair',
        'first, last: yes or no',
      ),
      field('pack.pack_voltage_at', 'Pack voltage is measured at', '', 'choice', undefined, [
        'cells',
        'pack-terminals',
        'after-contactors',
      ]),
      field('pack.capacity_ah', 'Capacity', 'Ah', 'number'),
      field('pack.chemistry', 'Chemistry', '', 'text', 'nmc, nca, lfp, lto'),
      field('pack.cell_voltage_min', 'Lowest cell voltage', 'V', 'number'),
      field('pack.cell_voltage_max', 'Highest cell voltage', 'V', 'number'),
      field('pack.cell_temperature_min_charge', 'Coldest for charging', '°C', 'number'),
      field('pack.cell_temperature_max', 'Hottest', '°C', 'number'),
      field('pack.ocv', 'Voltage at rest', '%, V', 'pairs', 'a line a point: state of charge, volts'),
      field('pack.balance_current_a', 'Balancing current', 'A', 'number'),
      field('pack.scan_ms', 'Time between the first and last cell read', 'ms', 'number'),
      field('pack.cell_filter_s', 'Filter of the cell voltages', 's', 'number'),
      field('pack.current_gain_percent', 'Tolerance of the current sensor’s gain', '%', 'number', 'usual: 2'),
    ],
  ],
  [
    'Precharge and isolation',
    [
      field('precharge.resistor_ohm', 'Precharge resistor', 'Ω', 'number'),
      field('precharge.link_farad', 'Link capacitance', 'F', 'number'),
      field('precharge.bleed_ohm', 'Bleed resistor', 'Ω', 'number'),
      field('precharge.ready_percent', 'Ready at', '% of pack voltage', 'number', 'usual: 95'),
      field('precharge.layout', 'Precharge is in', '', 'choice', 'the pole that it bridges', [
        'positive',
        'negative',
        'none',
      ]),
      field('isolation_min_ohm_per_volt', 'Least isolation', 'Ω/V', 'number'),
      field('isolation_monitor_side', 'The isolation monitor sits on the', '', 'choice', undefined, [
        'battery',
        'link',
      ]),
    ],
  ],
  [
    'Accelerator pedal',
    [
      field('pedal.track_1', 'Track 1: released, pressed', 'V', 'pair'),
      field('pedal.track_2', 'Track 2: released, pressed', 'V', 'pair'),
      field('pedal.mismatch_percent', 'Largest difference', 'points', 'number', 'usual: 10'),
      field('pedal.mismatch_ms', 'held for longer than', 'ms', 'number', 'usual: 100'),
      field('pedal.valid_v', 'Valid readings: from, to', 'V', 'pair', 'usual: 0.3, 4.7'),
      field('pedal.cruise', 'The car has cruise control', '', 'yes-no'),
      field('pedal.hold', 'The car has creep or hill hold', '', 'yes-no'),
      field('pedal.creep_max_nm', 'Most creep torque with the pedal released', 'N·m', 'number'),
    ],
  ],
  [
    'Brake and regeneration',
    [
      field(
        'brake.regen_input',
        'Regeneration follows',
        '',
        'choices',
        'pressure, travel, switch, pedal-lift',
        ['pressure', 'travel', 'switch', 'pedal-lift'],
      ),
      field('brake.regen_start_bar', 'Starts at', 'bar', 'number'),
      field('brake.regen_full_bar', 'Full at', 'bar', 'number'),
      field('brake.regen_max_nm', 'Most', 'N·m', 'number'),
      field('brake.lift_regen_nm', 'On lift-off', 'N·m', 'number'),
      field('brake.fade_kmh', 'Fades out: gone at, full from', 'km/h', 'pair'),
      field('brake.sensor_circuit', 'Circuit of the pressure sensor', '', 'text', 'front or rear'),
      field('brake.sensor_after_limiter', 'The sensor sits after a pressure limiter', '', 'yes-no'),
      field('brake.sensor_zero_bar', 'Reading with the brake free', 'bar', 'number'),
      field('brake.valid_v', 'Valid sensor voltage: from, to', 'V', 'pair'),
    ],
  ],
  [
    'Words of states and faults, steps of the start',
    [
      field('sources', 'Where the figures came from', '', 'json', 'text, or { "field": "source" }'),
      field('states.bms', 'Names of the battery unit’s states', '', 'json', '{ "5": "fault" }'),
      field('states.inverter', 'Names of the inverter’s states', '', 'json', '{ "5": "fault" }'),
      field(
        'fault_bits.bms',
        'Names of the battery unit’s fault bits',
        '',
        'json',
        '{ "3": "over-temperature" }',
      ),
      field(
        'fault_bits.inverter',
        'Names of the inverter’s fault bits',
        '',
        'json',
        '{ "3": "over-current" }',
      ),
      field(
        'start_steps',
        'Start steps left out, added, reordered',
        '',
        'json',
        '{ "leave_out": ["selector"] }',
      ),
      field(
        'charge_steps',
        'Charge steps left out, and the car’s own order',
        '',
        'json',
        '{ "order": ["state", "battery"] }',
      ),
    ],
  ],
]
