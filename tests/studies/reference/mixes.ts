import { Random } from '../../simulator/random.ts'
import * as change from './changes.ts'
import * as fault from './faults.ts'
import { NEEDS_FILE, type Variant } from './make.ts'
import { randomNames } from './names.ts'
import { referenceScene, type Scene } from './scene.ts'
import { randomDialect, writeLog } from './write.ts'

type Change = (scene: Scene, random: Random) => Scene

/** Any cell but the last, which has no upper neighbour. */
const cellOf = (scene: Scene, random: Random): number => random.whole(2, scene.vehicle.pack!.cells! - 1)

const FAULTS: readonly Change[] = [
  (scene) => scene,
  (scene) => scene,
  (scene) => scene,
  (scene, r) => fault.joint(scene, cellOf(scene, r), r.between(0.3, 1.2)),
  (scene, r) => fault.weakCell(scene, cellOf(scene, r), r.between(1.45, 2.2)),
  (scene, r) => fault.senseLead(scene, cellOf(scene, r), r.between(12, 30)),
  (scene, r) => fault.imbalance(scene, cellOf(scene, r), r.pick([-1, 1]) * r.between(15, 45)),
  (scene, r) => fault.frozenCell(scene, cellOf(scene, r), r.between(100, 250)),
  (scene, r) =>
    fault.trackOff(scene, r.pick([-1, 1]) * r.between(13, 25), r.between(60, 400), r.between(1, 5)),
  (scene, r) => fault.isolation(scene, r.between(0.12, 0.36) * 4 * scene.vehicle.pack!.cells!, 150, 1e9),
  (scene, r) => fault.temperatureOpen(scene, r.whole(1, 14), r.between(50, 200), -40),
  (scene, r) => fault.mainPath(scene, r.between(12, 25)),
  (scene) => fault.dcdcOff(scene),
  (scene) => fault.welded(scene),
]

const LOGGED: readonly Change[] = [
  (scene) => scene,
  (scene) => scene,
  (scene) => change.thinned(scene, /^cell_voltage\./, 2),
  (scene) => change.heldRows(scene, 20),
  (scene) => change.heldRows(scene, 10),
  (scene) => change.thinned(scene, /^(?!cell|module)/, 20),
  (scene, r) => change.rowsLost(scene, 0.05, r),
  (scene, r) => ({
    ...change.unreadableRuns(scene, r, 1),
    allow: [...scene.allow, 'brake-signal-missing'],
  }),
  (scene, r) => change.rowsDoubled(scene, 0.03, r),
  (scene) => change.coarser(scene, { cell_voltage: 0.002, module_temperature: 1, pack_current: 0.2 }),
]

/** Place of the runs that cannot be read in `LOGGED`. */
const UNREADABLE = 7

const LACKS: readonly RegExp[] = [
  /^$/,
  /^$/,
  /^(coolant|motor_temp|inverter_temp)/,
  /_state$/,
  /_limit$/,
  /^dcdc/,
  /^selector$/,
  /^torque_request$/,
  /^pedal_position$/,
  /^motor_speed$/,
]

/** A reference drive with a fault or none, logged, named and written some way or other. */
export function randomMix(seed: number): Variant {
  const random = new Random(seed).fork('mix')
  const base = random.pick([
    'healthy',
    'healthy',
    'healthy',
    'joint',
    'sense-lead',
    'regen',
    'no-drive',
    'pedal',
    'weak-cell',
  ])
  const put = base === 'healthy' ? random.whole(0, FAULTS.length - 1) : 0
  const logged = random.whole(0, LOGGED.length - 1)
  const lacks = random.whole(0, LACKS.length - 1)
  const size = base === 'healthy' && random.chance(0.3) ? random.pick([36, 60, 120, 168]) : 84
  const names = randomNames(random, size, 12)
  const any = randomDialect(names, random)
  // A frame cannot say that a value was not readable.
  const dialect = logged === UNREADABLE ? { ...any, layout: 'wide' as const } : any
  return {
    name: `mix/${seed} ${base} ${size} cells fault ${put} logged ${logged} lacks ${LACKS[lacks]!.source} ${names.vocabulary} ${names.letters} ${names.cellsBy} from ${names.numberFrom} ${dialect.layout} ${dialect.time} units ${dialect.unitsIn} ${dialect.current}`,
    needsFile: NEEDS_FILE,
    make: async (r) => {
      let scene = await referenceScene(base)
      if (size !== 84) scene = change.otherSize(scene, size, r)
      scene = change.without(LOGGED[logged]!(FAULTS[put]!(scene, r), r), LACKS[lacks]!)
      return { scene, files: [writeLog(scene.signals, dialect, null)] }
    },
  }
}
