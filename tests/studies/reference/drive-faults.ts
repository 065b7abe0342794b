import type { Expected } from '../../simulator/expected.ts'
import { valueAt } from './faults.ts'
import { changeValues, type Scene, signalOf } from './scene.ts'

/** Faults of pedal, torque, limits and climate put into a healthy reference drive by formula. */
const said = (scene: Scene, expect: readonly Expected[], allow: readonly string[] = []): Scene => ({
  ...scene,
  expect: [...scene.expect, ...expect],
  allow: [...scene.allow, ...allow],
})

export const DRIVE_FAULTS: Readonly<Record<string, (scene: Scene) => Scene>> = {
  'brake-with-pedal': (scene) => {
    const pedal = valueAt(signalOf(scene, 'pedal_position'))
    const speed = valueAt(signalOf(scene, 'speed'))
    let from = 60
    const pressed = (t: number): boolean =>
      pedal(t) > 27 && pedal(t + 1) > 27 && speed(t) > 10 && pedal(t + 2) > 27
    while (!pressed(from) && from < 700) from += 0.5
    const on = (t: number): boolean => t >= from && t < from + 2
    const braked = changeValues(scene, 'brake_pressure', (value, t) => (on(t) ? value + 12 : value))
    return said(
      changeValues(braked, 'brake_switch', (value, t) => (on(t) ? 1 : value)),
      [{ kind: 'pedal-with-brake' }],
      ['regen-lag', 'regen-limited'],
    )
  },
  'track-frozen': (scene) =>
    said(
      changeValues(scene, 'pedal_track_2', () => 4.16),
      [{ kind: 'pedal-mismatch' }],
    ),
  'tracks-shorted': (scene) => {
    const one = valueAt(signalOf(scene, 'pedal_track_1'))
    return said(
      changeValues(scene, 'pedal_track_2', (value, t) => (t > 200 ? one(t) : value)),
      [{ kind: 'pedal-mismatch' }],
      ['pedal-tracks-equal'],
    )
  },
  'torque-late': (scene) => {
    const torque = valueAt(signalOf(scene, 'torque'))
    return said(
      changeValues(scene, 'torque', (value, t) => (t < 1 ? value : torque(t - 0.8))),
      // The healthy drive's own torque is 0.05 s late.
      [{ kind: 'torque-lag', value: 0.85, tol: 0.3 }],
      ['regen-lag', 'regen-limited', 'torque-without-pedal', 'torque-against-selector'],
    )
  },
  'torque-late-0.1': (scene) => {
    const torque = valueAt(signalOf(scene, 'torque'))
    return changeValues(scene, 'torque', (value, t) => (t < 1 ? value : torque(t - 0.06)))
  },
  'cells-too-high': (scene) =>
    said(
      changeValues(
        changeValues(scene, /^cell_voltage\./, (value) => value + 0.23),
        /^pack_voltage$/,
        (value) => value + 84 * 0.23,
      ),
      [{ kind: 'cell-voltage-limit' }],
      ['main-path-resistance-high', 'contactor-resistance-high', 'contactor-welded', 'precharge-incomplete'],
    ),
  'over-discharge-limit': (scene) =>
    said(
      changeValues(scene, 'discharge_limit', () => 100),
      [{ kind: 'discharge-current-over-limit' }],
    ),
  frost: (scene) =>
    said(
      changeValues(scene, /^(module_temperature\.|coolant|inverter_temp|motor_temp)/, (value) => value - 23),
      [{ kind: 'charge-when-cold' }],
    ),
  'lamp-free-frost-3': (scene) =>
    changeValues(scene, /^(module_temperature\.|coolant|inverter_temp|motor_temp)/, (value) => value - 12),
  'two-tracks-sag': (scene) =>
    changeValues(scene, /^pedal_track_/, (value, t) => (t > 200 && t < 230 ? value * 0.985 : value)),
  'gear-neutral-rolls': (scene) => changeValues(scene, 'selector', (value, t) => (t > 700 ? 0 : value)),
}
