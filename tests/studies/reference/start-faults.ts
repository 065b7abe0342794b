import type { Expected } from '../../simulator/expected.ts'
import { changeValues, type Scene } from './scene.ts'

/**
 * Starts that fail, made from the reference log of a start whose precharge stays low: what the chain would have done had
 * another step failed. The bits are set to what a car without that step shows.
 */
const set = (scene: Scene, which: string | RegExp, value: (was: number, t: number) => number): Scene =>
  changeValues(scene, which, value)
const expecting = (scene: Scene, expect: readonly Expected[], allow: readonly string[] = []): Scene => ({
  ...scene,
  expect,
  allow,
})

/** Nothing closes: the battery unit waits. */
function blocked(scene: Scene, name: string, kind: string | null, state = 1): Scene {
  let changed = set(scene, /^contactor_/, () => 0)
  changed = set(changed, 'link_voltage', (was) => Math.min(was, 0.4))
  changed = set(changed, 'bms_state', (was) => (was > 0 ? state : 0))
  return expecting(changed, [{ kind: 'no-drive', name }, ...(kind ? [{ kind }] : [])])
}

export const START_FAULTS: Readonly<Record<string, (scene: Scene) => Scene>> = {
  inertia: (scene) => set(blocked(scene, 'inertia', 'inertia-switch-open'), 'inertia_closed', () => 0),
  interlock: (scene) => set(blocked(scene, 'interlock', 'interlock-open'), 'interlock_closed', () => 0),
  plug: (scene) => set(blocked(scene, 'plug', 'charge-plug-in'), 'charge_plug', () => 1),
  'low-12-V': (scene) =>
    set(blocked(scene, 'supply', 'lv-voltage-low'), 'lv_voltage', (was, t) => (t < 2 ? was : was - 3.2)),
  battery: (scene) => blocked(scene, 'battery', null, 5),
  isolation: (scene) =>
    set(blocked(scene, 'isolation', 'isolation-low'), 'isolation_resistance', (was) => 14 + (was % 2)),
  negative: (scene) => {
    let changed = set(scene, /^contactor_negative$/, () => 0)
    changed = set(changed, 'link_voltage', (was) => Math.min(was, 0.4))
    return expecting(changed, [{ kind: 'no-drive', name: 'negative' }], ['precharge-open'])
  },
  'precharge-open': (scene) =>
    expecting(
      set(scene, 'link_voltage', (was) => Math.min(was, 0.4)),
      [{ kind: 'precharge-open' }, { kind: 'no-drive', name: 'precharge' }],
    ),
  'precharge-heavy-load': (scene) =>
    expecting(
      set(scene, 'link_voltage', (was) => was * 0.5),
      [
        { kind: 'precharge-incomplete', value: 43, tol: 0.08 },
        { kind: 'no-drive', name: 'precharge' },
      ],
    ),
  positive: (scene) =>
    expecting(
      set(scene, 'link_voltage', (was) => was * 1.158),
      [{ kind: 'no-drive', name: 'positive' }],
    ),
}
