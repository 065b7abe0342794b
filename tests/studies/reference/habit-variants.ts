import type { Vehicle } from '../../../shared/vehicle.ts'
import * as change from './changes.ts'
import * as habit from './habits.ts'
import { changed, PLAIN, type Variant } from './make.ts'
import { changeValues, type Scene } from './scene.ts'

const own = (names: Readonly<Record<string, string>>): { dialect: { names: typeof PLAIN } } => ({
  dialect: { names: { ...PLAIN, own: names } },
})
const withPedal = (scene: Scene, pedal: NonNullable<Vehicle['pedal']>): Scene => ({
  ...scene,
  vehicle: { ...scene.vehicle, pedal: { ...scene.vehicle.pedal, ...pedal } },
})

/** Channels that a box sends though nothing feeds them: one value for ever. */
const STUCK: readonly (readonly [id: string, value: number, allow?: readonly string[]])[] = [
  ['selector', 0],
  ['selector', 1],
  ['brake_switch', 0, ['brake-signal-missing']],
  ['brake_switch', 1],
  ['key_on', 0],
  ['key_on', 1],
  ['charge_plug', 1],
  ['interlock_closed', 0],
  ['inertia_closed', 0],
  ['drive_ready', 0],
  ['drive_ready', 1],
  ['soc', 0],
  ['soc', 82],
  ['isolation_resistance', 0],
  ['isolation_resistance', 65535],
  ['speed', 0],
  ['torque', 0],
  ['torque_request', 0],
  ['motor_speed', 0],
  ['lv_voltage', 0],
  ['link_voltage', 0],
  ['pedal_position', 0],
  // A full or cold pack allows no charging: told as it stands.
  ['charge_limit', 0, ['charge-current-over-limit']],
  ['discharge_limit', 0],
  ['coolant_in', 0],
  ['coolant_out', -40],
  ['inverter_temperature', 0],
  // An open sensor from the first row to the last.
  ['motor_temperature', 250, ['temperature-reading-invalid']],
  ['dcdc_current', 0],
  ['bms_state', 0],
  ['inverter_state', 0],
  ['pack_voltage', 0],
  ['pack_current', 0],
]

export const HABITS: Variant[] = [
  ...STUCK.map(([id, value, allow = []]) =>
    changed(`stuck/${id}-${value}`, 'healthy', (scene) => ({
      ...changeValues(scene, id, () => value),
      allow,
      broken: [id],
    })),
  ),
  ...[0, 65.535, 5].map((value) =>
    changed(`habit/empty-cells-${value}`, 'joint', (scene) =>
      habit.emptySlots(scene, 'cell_voltage', 96, value),
    ),
  ),
  ...[-40, 0, 85, 250].map((value) =>
    changed(`habit/empty-sensors-${value}`, 'healthy', (scene) =>
      habit.emptySlots(scene, 'module_temperature', 16, value),
    ),
  ),
  ...['healthy', 'no-drive'].flatMap((base) => [
    changed(
      `habit/switches-inverted-${base}`,
      base,
      (scene) => habit.inverted(scene, /^(interlock_closed|inertia_closed)$/),
      own({ interlock_closed: 'Interlock open', inertia_closed: 'Inertia switch tripped' }),
    ),
    changed(
      `habit/switches-inverted-unsaid-${base}`,
      base,
      (scene) => habit.inverted(scene, /^(interlock_closed|inertia_closed|contactor_.*)$/),
      own({ interlock_closed: 'Interlock', inertia_closed: 'Inertia switch' }),
    ),
    changed(`habit/command-feedback-${base}`, base, (scene) => habit.commandAndFeedback(scene)),
    changed(
      `habit/coil-duty-${base}`,
      base,
      (scene) => habit.coilDuty(scene),
      own({
        contactor_precharge: 'Precharge contactor coil duty [%]',
        contactor_positive: 'Positive contactor coil duty [%]',
        contactor_negative: 'Negative contactor coil duty [%]',
      }),
    ),
    changed(`habit/words-${base}`, base, (scene) => scene, {
      dialect: {
        words: {
          bms_state: { 0: 'Off', 1: 'Waiting', 2: 'Precharge', 3: 'Closed', 5: 'Fault' },
          inverter_state: { 0: 'Off', 1: 'Powered', 2: 'Ready', 3: 'Drive' },
          key_on: { 0: 'off', 1: 'on' },
          selector: { 0: 'N', 1: 'D' },
          contactor_positive: { 0: 'open', 1: 'closed' },
          interlock_closed: { 0: 'open', 1: 'closed' },
        },
      },
    }),
  ]),
  ...['healthy', 'pedal'].flatMap((base) => [
    changed(`habit/pedal-half-slope-${base}`, base, (scene) => habit.halfSlope(scene)),
    changed(
      `habit/pedal-counts-${base}`,
      base,
      (scene) => {
        const counts = habit.scaled(scene, /^pedal_track_/, 4095 / 5)
        const of = ([a, b]: readonly [number, number]): [number, number] => [(a * 4095) / 5, (b * 4095) / 5]
        const { track_1, track_2 } = scene.vehicle.pedal!
        return {
          ...withPedal(
            {
              ...counts,
              signals: counts.signals.map((each) =>
                /^pedal_track/.test(each.id) ? { ...each, step: 1 } : each,
              ),
            },
            { track_1: of(track_1!), track_2: of(track_2!) },
          ),
          broken: ['pedal_track_1', 'pedal_track_2'],
        }
      },
      { dialect: { unitsIn: 'nowhere' } },
    ),
  ]),
  ...['healthy', 'regen'].map((base) =>
    changed(`habit/wheels-${base}`, base, (scene, random) => habit.wheelsOnly(scene, random)),
  ),
  ...[0.99, 1.015].map((factor) =>
    changed(`habit/pack-voltage-${factor}`, 'healthy', (scene) =>
      habit.scaled(scene, /^pack_voltage$/, factor),
    ),
  ),
  ...[0.98, 1.02].map((factor) =>
    changed(`habit/link-voltage-${factor}`, 'healthy', (scene) =>
      habit.scaled(scene, /^link_voltage$/, factor),
    ),
  ),
  ...[0.92, 1.08].map((factor) =>
    changed(`habit/torque-${factor}`, 'healthy', (scene) => habit.scaled(scene, /^torque$/, factor)),
  ),
  changed('habit/torque-turned', 'healthy', (scene) => habit.scaled(scene, /^torque(_request)?$/, -1), {}),
  changed('habit/speed-3-percent', 'healthy', (scene) => habit.scaled(scene, /^speed$/, 1.03)),
  changed('habit/isolation-settles', 'healthy', (scene) => habit.isolationMonitor(scene, 25, 1e9)),
  changed('habit/isolation-saturates', 'healthy', (scene) => habit.isolationMonitor(scene, 0, 1000)),
  changed('habit/plug-inverted', 'healthy', (scene) => habit.inverted(scene, /^charge_plug$/)),
  changed('habit/selector-codes', 'healthy', (scene) => ({
    ...changeValues(scene, 'selector', (value) => value + 2),
    broken: ['selector'],
  })),
  changed('habit/brake-switch-alone', 'healthy', (scene) => change.without(scene, /^brake_pressure$/)),
]
