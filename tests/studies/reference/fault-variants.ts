import * as change from './changes.ts'
import { DRIVE_FAULTS } from './drive-faults.ts'
import * as fault from './faults.ts'
import { changed, NEEDS_FILE, type Variant } from './make.ts'
import { changeValues } from './scene.ts'
import { START_FAULTS } from './start-faults.ts'

export const FAULTS: Variant[] = [
  ...Object.entries(DRIVE_FAULTS).map(([name, by]) => changed(`drive/${name}`, 'healthy', by)),
  ...[0.25, 0.4, 0.8, 1.6].map((r) => changed(`fault/joint-${r}`, 'healthy', (s) => fault.joint(s, 30, r))),
  changed('fault/joint-0.06', 'healthy', (s) => fault.joint(s, 30, 0.06, false)),
  changed('fault/joint-at-module', 'healthy', (s) => fault.joint(s, 49, 0.5)),
  changed('fault/joint-before-module', 'healthy', (s) => fault.joint(s, 48, 0.5)),
  changed('fault/joint-first', 'healthy', (s) => fault.joint(s, 1, 0.5)),
  changed('fault/joint-last', 'healthy', (s) => fault.joint(s, 84, 0.5)),
  changed('fault/joints-2', 'healthy', (s) => fault.joint(fault.joint(s, 20, 0.4), 66, 0.7)),
  changed('fault/joint-shared', 'healthy', (s) => fault.sharedJoint(s, 40, 0.6)),
  ...[1.4, 1.7, 2.4].map((r) => changed(`fault/weak-${r}`, 'healthy', (s) => fault.weakCell(s, 55, r))),
  ...[12, 20, -15].map((mv) => changed(`fault/sense-${mv}`, 'healthy', (s) => fault.senseLead(s, 33, mv))),
  changed('fault/sense-3', 'healthy', (s) => fault.senseLead(s, 33, 3, false)),
  changed('fault/tap', 'healthy', (s) => fault.tapMoved(s, 33, 0.4)),
  changed('fault/noisy-lead', 'healthy', (s, r) => fault.noisyLead(s, 33, 6, r)),
  changed('fault/noisy-lead-20', 'healthy', (s, r) => ({
    ...fault.noisyLead(s, 33, 20, r),
    allow: ['cell-reading-invalid', 'sense-lead-offset'],
  })),
  changed('fault/frozen', 'healthy', (s) => fault.frozenCell(s, 20, 150)),
  ...[-20, 15, -60].map((mv) =>
    changed(`fault/imbalance-${mv}`, 'healthy', (s) => fault.imbalance(s, 61, mv)),
  ),
  changed('fault/imbalance-5', 'healthy', (s) => fault.imbalance(s, 61, 5, false)),
  changed('fault/track-13', 'healthy', (s) => fault.trackOff(s, 13, 100, 4)),
  changed('fault/track-25', 'healthy', (s) => fault.trackOff(s, -25, 300, 1)),
  changed('fault/track-6', 'healthy', (s) => fault.trackOff(s, 6, 100, 40)),
  changed('fault/track-25-short', 'healthy', (s) => fault.trackOff(s, 25, 100, 0.06)),
  ...[0.75, 0.9, 0.97].map((gain) =>
    changed(`fault/track-gain-${gain}`, 'healthy', (s) => fault.trackGain(s, gain), {
      needsFile: ['pedal-mismatch'],
    }),
  ),
  changed('fault/dropout-short', 'healthy', (s) => fault.trackDropout(s, 222, 0.05)),
  changed('fault/dropout-long', 'healthy', (s) => fault.trackDropout(s, 222, 1.5)),
  changed('fault/torque-alone', 'healthy', (s) => fault.torqueAlone(s, 25, 2)),
  ...[0.8, 2.5, -0.8].flatMap((bar) =>
    ['healthy', 'regen'].map((base) =>
      changed(`fault/brake-offset-${bar}-${base}`, base, (s) => fault.brakeOffset(s, bar)),
    ),
  ),
  changed('fault/brake-stuck', 'healthy', (s) => fault.brakeStuck(s)),
  changed('fault/regen-step', 'healthy', (s) => fault.regenStep(s, 10, 28)),
  changed('fault/temperature-stuck', 'cooling', (s) => fault.temperatureStuck(s, 11, 300)),
  changed('fault/temperature-open--40', 'healthy', (s) => fault.temperatureOpen(s, 9, 150, -40)),
  changed('fault/temperature-open-125', 'healthy', (s) => fault.temperatureOpen(s, 9, 150, 125)),
  changed('fault/temperature-open-start', 'healthy', (s) => fault.temperatureOpen(s, 9, 0, -40)),
  changed('fault/hot', 'healthy', (s) => fault.hotModule(s, 9, 45)),
  changed('fault/isolation-low', 'healthy', (s) => fault.isolation(s, 90, 200, 1e9)),
  changed('fault/isolation-stop', 'healthy', (s) => fault.isolation(s, 20, 200, 1e9)),
  changed('fault/isolation-30-s', 'healthy', (s) => fault.isolation(s, 60, 200, 30)),
  changed('fault/contactor-bit-stuck', 'healthy', (s) => fault.bit(s, 'contactor_positive', 0, 0, 1e9)),
  changed('fault/contactor-bit-drop', 'healthy', (s) => fault.bit(s, 'contactor_positive', 0, 200, 0.3)),
  changed('fault/contactor-bit-lost', 'healthy', (s) => fault.bit(s, 'contactor_positive', 0, 200, 1e9)),
  changed('fault/contactor-bits-drop', 'healthy', (s) =>
    fault.bit(fault.bit(s, 'contactor_positive', 0, 200, 0.3), 'contactor_negative', 0, 200, 0.3),
  ),
  changed('fault/negative-bit-stuck', 'healthy', (s) => fault.bit(s, 'contactor_negative', 0, 0, 1e9)),
  changed('fault/precharge-bit-stuck', 'healthy', (s) => fault.bit(s, 'contactor_precharge', 0, 0, 1e9)),
  changed('fault/contactors-late', 'healthy', (s) =>
    fault.late(fault.late(s, 'contactor_positive', 0.3), 'contactor_negative', 0.3),
  ),
  changed('fault/ready-bit-drop', 'healthy', (s) => fault.bit(s, 'drive_ready', 0, 104, 0.6)),
  changed('fault/key-bit-drop', 'healthy', (s) => fault.bit(s, 'key_on', 0, 200, 0.2)),
  changed('fault/inertia-blip', 'healthy', (s) => fault.bit(s, 'inertia_closed', 0, 200, 0.05)),
  changed('fault/interlock-blip', 'healthy', (s) => ({
    ...fault.bit(s, 'interlock_closed', 0, 200, 0.3),
    allow: ['interlock-open'],
  })),
  changed('fault/inertia-opens', 'healthy', (s) => fault.loopOpens(s, 'inertia_closed', 108)),
  changed('fault/interlock-opens', 'healthy', (s) => fault.loopOpens(s, 'interlock_closed', 205)),
  changed('fault/lv-dip', 'healthy', (s) => fault.lvAt(s, 9.6, 3, 0.3, [])),
  changed('fault/lv-low', 'healthy', (s) => fault.lvAt(s, 9.8, 0, 1e9, ['lv-voltage-low'])),
  changed('fault/dcdc-off', 'healthy', (s) => fault.dcdcOff(s)),
  changed('fault/main-path', 'healthy', (s) => fault.mainPath(s, 15)),
  changed('fault/current-offset', 'healthy', (s) => fault.currentOffset(s, 4)),
  changed('fault/current-offset-1', 'healthy', (s) => changeValues(s, 'pack_current', (value) => value + 1)),
  changed('fault/current-clipped', 'healthy', (s) => fault.currentClipped(s, 60)),
  changed('fault/current-gain', 'healthy', (s) => changeValues(s, 'pack_current', (value) => value * 1.02)),
  changed('fault/welded', 'healthy', (s) => fault.welded(s)),
]

/** Only the vehicle file says which state is a fault. */
const START_NEEDS = { needsFile: [...NEEDS_FILE, 'battery'] }

export const STARTS: Variant[] = Object.entries(START_FAULTS).flatMap(([name, by]) => [
  changed(`start/${name}`, 'no-drive', by, START_NEEDS),
  changed(`start/${name}-held-10-Hz`, 'no-drive', (scene) => change.heldRows(by(scene), 10), START_NEEDS),
  changed(`start/${name}-held-1-Hz`, 'no-drive', (scene) => change.heldRows(by(scene), 1), START_NEEDS),
])
