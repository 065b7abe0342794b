import type { Review } from '../../../shared/review.ts'
import type { Random } from '../../simulator/random.ts'
import * as change from './changes.ts'
import { FAULTS, STARTS } from './fault-variants.ts'
import * as fault from './faults.ts'
import { HABITS } from './habit-variants.ts'
import { changed, NEEDS_FILE, PLAIN, type Variant, written } from './make.ts'
import { CASES, type NameStyle, randomNames, VOCABULARIES } from './names.ts'
import { referenceScene, type Scene } from './scene.ts'
import { type Dialect, plainDialect, randomDialect, writeLog } from './write.ts'

const names = (more: Partial<NameStyle>): NameStyle => ({ ...PLAIN, ...more })

const NAMES: Variant[] = [
  ...VOCABULARIES.flatMap((vocabulary) =>
    (['brackets', 'row', 'suffix', 'nowhere'] as const).map((unitsIn) =>
      written(`names/${vocabulary}-${unitsIn}`, 'no-drive', (random) => ({
        ...plainDialect(names({ vocabulary, letters: unitsIn === 'suffix' ? 'snake' : random.pick(CASES) })),
        unitsIn,
      })),
    ),
  ),
  ...VOCABULARIES.map((vocabulary) =>
    written(`names/joint-${vocabulary}`, 'joint', (random) => ({
      ...plainDialect(names({ vocabulary, letters: random.pick(CASES) })),
      shuffled: random,
    })),
  ),
  ...CASES.map((letters) =>
    written(`names/case-${letters}`, 'no-drive', () => plainDialect(names({ letters }))),
  ),
  written('names/from-0', 'sense-lead', () => plainDialect(names({ numberFrom: 0 }))),
  written('names/module-cells', 'joint', () =>
    plainDialect(names({ cellsBy: 'module', vocabulary: 'short' })),
  ),
  written('names/module-cells-from-0', 'joint', () =>
    plainDialect(names({ cellsBy: 'module', numberFrom: 0, letters: 'camel' })),
  ),
  written('names/box-cells', 'joint', () => plainDialect(names({ cellsBy: 'box', letters: 'snake' }))),
  written('names/box-cells-from-0', 'joint', () =>
    plainDialect(names({ cellsBy: 'box', numberFrom: 0, letters: 'dotted' })),
  ),
  ...Array.from({ length: 16 }, (_, at) =>
    written(`names/random-${at}`, ['healthy', 'joint', 'no-drive', 'regen'][at % 4]!, (random) =>
      randomDialect(randomNames(random, 84, 12), random),
    ),
  ),
]

const dialect = (name: string, base: string, by: (random: Random) => Partial<Dialect>): Variant =>
  written(`layout/${name}`, base, (random) => ({ ...plainDialect(PLAIN), ...by(random) }))

const LAYOUTS: Variant[] = [
  dialect('decimal-comma', 'joint', () => ({ delimiter: ';', decimal: ',' })),
  dialect('tab-utf16', 'joint', () => ({ delimiter: '\t', encoding: 'utf-16le' })),
  dialect('milliseconds', 'healthy', () => ({ time: 'milliseconds' })),
  dialect('wall', 'healthy', () => ({ time: 'wall' })),
  dialect('clock', 'healthy', () => ({ time: 'clock' })),
  dialect('counter', 'healthy', () => ({ time: 'counter16' })),
  dialect('long', 'joint', () => ({ layout: 'long' })),
  dialect('long-iso', 'regen', () => ({ layout: 'long', time: 'iso', delimiter: ';' })),
  dialect('frames', 'joint', (random) => ({ layout: 'frame CSV', shuffled: random })),
  dialect('pcap', 'joint', (random) => ({ layout: 'pcap', shuffled: random })),
  dialect('pcapng', 'healthy', (random) => ({ layout: 'pcapng', shuffled: random })),
  dialect('pcap-regen', 'regen', (random) => ({ layout: 'pcap', shuffled: random })),
  dialect('millivolts', 'joint', () => ({
    units: { cell_voltage: 'mV', pedal_track_1: 'mV', pedal_track_2: 'mV' },
  })),
  dialect('millivolts-unsaid', 'joint', () => ({ units: { cell_voltage: 'mV' }, unitsIn: 'nowhere' })),
  ...['kPa', 'psi', 'MPa'].map((unit) => dialect(unit, 'regen', () => ({ units: { brake_pressure: unit } }))),
  dialect('fahrenheit-mph', 'cooling', () => ({ units: { module_temperature: '°F', speed: 'mph' } })),
  dialect('turned', 'joint', () => ({ current: 'turned' })),
  dialect('turned-weak', 'weak-cell', () => ({ current: 'turned' })),
  dialect('unsigned', 'healthy', () => ({ current: 'unsigned' })),
  dialect('unsigned-joint', 'joint', () => ({ current: 'unsigned' })),
  dialect('unsigned-regen', 'regen', () => ({ current: 'unsigned' })),
  dialect('fractions', 'pedal', () => ({ fractions: true })),
  dialect('no-units', 'healthy', () => ({ unitsIn: 'nowhere' })),
]

const CELLS = /^(cell_voltage|module_temperature)\./
const BATTERY =
  /^(cell_voltage\.|module_temperature\.|pack_voltage|contactor|isolation|soc|charge_limit|discharge_limit|bms|interlock)/
const INVERTER = /^(torque|motor_speed|link_voltage|inverter|motor_temp|coolant)/

/** The drive split over several boxes with clocks of their own. */
const split = (
  name: string,
  base: string,
  share: 'current' | 'both' | 'nothing',
  boxes: 2 | 3,
  more: { wall?: boolean; late?: boolean } = {},
): Variant => ({
  name: `clocks/${name}`,
  needsFile: NEEDS_FILE,
  make: async (random) => {
    let scene = await referenceScene(base)
    if (share === 'nothing') scene = change.without(scene, /^link_voltage$/)
    const slow = change.thinned(scene, /^pack_current$/, 10)
    const ofBattery = slow.signals.filter(({ id }) => BATTERY.test(id) || id === 'pack_current')
    const current = scene.signals.filter(
      ({ id }) => id === 'pack_current' && (share === 'current' || share === 'both'),
    )
    const rest = scene.signals.filter(({ id }) => !BATTERY.test(id) && id !== 'pack_current')
    const logs =
      boxes === 2
        ? [ofBattery, [...rest, ...current]]
        : [
            ofBattery,
            [...rest.filter(({ id }) => !INVERTER.test(id)), ...current],
            [
              ...rest.filter(({ id }) => INVERTER.test(id)),
              ...scene.signals.filter(({ id }) => id === 'speed'),
            ],
          ]
    const files = logs.map((signals, at) =>
      writeLog(
        signals,
        { ...plainDialect(PLAIN), ...(more.wall && at === 0 ? { time: 'wall' as const } : {}) },
        {
          offsetS: at === 0 ? 0 : random.between(3, 60),
          driftPpm: at === 0 ? 0 : 60 * random.normal(),
          startsAt: '2031-10-11T07:05:00Z',
        },
        ['battery', 'vehicle', 'inverter'][at]!,
      ),
    )
    return { scene, files }
  },
})

const CLOCKS: Variant[] = [
  split('current-shared', 'joint', 'current', 2),
  split('current-shared-wall', 'healthy', 'current', 2, { wall: true }),
  split('current-shared-regen', 'regen', 'current', 2),
  split('torque-only', 'joint', 'nothing', 2),
  split('torque-only-healthy', 'healthy', 'nothing', 2),
  split('three', 'healthy', 'current', 3),
  split('three-joint', 'joint', 'current', 3),
  split('no-drive', 'no-drive', 'current', 2),
]

const RATES: Variant[] = [
  ...(['healthy', 'joint', 'sense-lead', 'weak-cell'] as const).flatMap((base) => [
    changed(`rates/cells-1-Hz-${base}`, base, (scene) => change.thinned(scene, CELLS, 1)),
    changed(`rates/all-held-10-Hz-${base}`, base, (scene) => change.heldRows(scene, 10)),
    changed(`rates/held-1-Hz-${base}`, base, (scene) => change.heldRows(scene, 1)),
  ]),
  changed('rates/temperatures-slow', 'cooling', (scene) =>
    change.thinned(scene, /^(module_temperature\.|coolant)/, 0.2),
  ),
  changed('rates/all-held-100-Hz', 'joint', (scene) => change.heldRows(scene, 100)),
  ...['healthy', 'regen', 'pedal', 'no-drive'].flatMap((base) => [
    changed(`rates/vehicle-10-Hz-${base}`, base, (scene) => change.thinned(scene, /^(?!cell|module)/, 10)),
    changed(`rates/vehicle-5-Hz-${base}`, base, (scene) => change.thinned(scene, /^(?!cell|module)/, 5)),
  ]),
  changed('rates/all-2-Hz', 'healthy', (scene) => change.thinned(scene, /./, 2)),
  changed('rates/no-drive-held-1-Hz', 'no-drive', (scene) => change.heldRows(scene, 1)),
  ...['healthy', 'joint', 'weak-cell'].map((base) =>
    changed(`rates/coarse-${base}`, base, (scene) =>
      change.coarser(scene, {
        cell_voltage: 0.005,
        module_temperature: 1,
        pack_current: 0.5,
        pack_voltage: 0.5,
        link_voltage: 1,
        speed: 0.5,
        torque: 1,
        torque_request: 1,
        brake_pressure: 0.5,
        pedal_track_1: 0.01,
        pedal_track_2: 0.01,
        pedal_position: 1,
        soc: 1,
      }),
    ),
  ),
  changed('rates/cells-10-mV', 'healthy', (scene) => change.coarser(scene, { cell_voltage: 0.01 })),
]

const HOLES: Variant[] = [
  ...['healthy', 'joint', 'regen'].flatMap((base) => [
    changed(`holes/rows-lost-${base}`, base, (scene, random) => change.rowsLost(scene, 0.1, random)),
    changed(`holes/unreadable-${base}`, base, (scene, random) => ({
      ...change.unreadableRuns(scene, random, 2),
      allow: ['brake-signal-missing'],
    })),
    changed(`holes/doubled-${base}`, base, (scene, random) => change.rowsDoubled(scene, 0.05, random)),
    changed(`holes/gap-3-s-${base}`, base, (scene) => change.withGap(scene, 200, 3)),
    changed(`holes/start-cut-${base}`, base, (scene) => change.cutTo(scene, 83.3, 1e9)),
    changed(`holes/end-cut-${base}`, base, (scene) => change.cutTo(scene, 0, 301.7)),
    changed(`holes/inside-${base}`, base, (scene) => change.cutTo(scene, 64.2, 420)),
  ]),
  changed('holes/gap-8-s', 'healthy', (scene) => ({
    ...change.withGap(scene, 200, 8),
    expect: [{ kind: 'log-gap' }],
  })),
  changed('holes/short', 'healthy', (scene) => change.cutTo(scene, 100, 130)),
  changed('holes/start-alone', 'healthy', (scene) => change.cutTo(scene, 0, 20)),
  changed('holes/twice', 'healthy', (scene) => ({ ...change.twice(scene, 40), allow: ['log-gap'] })),
  changed('holes/twice-joined', 'joint', (scene) => change.twice(scene, 0.05)),
]

const lacking = (name: string, base: string, which: RegExp, more: Partial<Scene> = {}): Variant =>
  changed(`missing/${name}-${base}`, base, (scene) => ({ ...change.without(scene, which), ...more }))

const MISSING: Variant[] = [
  ...['healthy', 'regen'].flatMap((base) => [
    lacking('track-2', base, /^pedal_track_2$/),
    lacking('pedal', base, /^pedal_/),
    lacking('link', base, /^link_voltage$/),
    lacking('contactors', base, /^contactor/),
    lacking('states', base, /_state$/),
    lacking('contactors-states', base, /^contactor|_state$/),
    lacking('contactors-link-states', base, /^contactor|_state$|^link_voltage$/),
    lacking('current', base, /^pack_current$/),
    lacking('speed', base, /^speed$/),
    lacking('torque-request', base, /^torque_request$/),
    lacking('temperatures', base, /temperature|coolant/),
    lacking('brake-switch', base, /^brake_switch$/),
    lacking('selector', base, /^selector$/),
    lacking('key', base, /^(key_on|drive_ready)$/),
    lacking('pack-voltage', base, /^pack_voltage$/),
    lacking('switches', base, /^(key_on|drive_ready|charge_plug|inter|inertia|selector|brake_switch)/),
  ]),
  lacking('torque', 'healthy', /^torque/),
  lacking('speed-motor', 'healthy', /^(speed|motor_speed)$/),
  lacking('speed-motor', 'regen', /^(speed|motor_speed)$/, { expect: [] }),
  lacking('brake-pressure', 'healthy', /^brake_pressure$/),
  lacking('brake-all', 'healthy', /^brake/),
  lacking('voltage-current', 'healthy', /^pack_/),
  lacking('cells', 'healthy', /^cell_voltage/),
  lacking('half-cells', 'healthy', /^cell_voltage\.(4[3-9]|[5-9]\d)$/),
  lacking('half-cells', 'joint', /^cell_voltage\.(4[3-9]|[5-9]\d)$/),
  lacking('some-cells', 'healthy', /^cell_voltage\.(7|19|33|34|70)$/),
  lacking('module-4', 'joint', /^cell_voltage\.(49|5\d|60)$/),
  lacking('link', 'no-drive', /^link_voltage$/, { expect: [], allow: ['no-drive'] }),
  lacking('contactors', 'no-drive', /^contactor/),
  lacking('states', 'no-drive', /_state$/),
  lacking('cells', 'no-drive', /^(cell|module)/),
  lacking('key', 'no-drive', /^(key_on|drive_ready)$/),
  lacking('current', 'joint', /^pack_current$/, { expect: [] }),
  lacking('pack-voltage', 'joint', /^pack_voltage$/),
  lacking('torque-motor', 'joint', /^(torque|motor|link|inverter)/),
  lacking('vehicle', 'joint', /^(?!cell_voltage|pack_|module)/),
  lacking('pedal', 'no-drive', /^pedal/),
  changed('missing/extremes', 'healthy', (scene) => change.onlyExtremes(scene)),
  changed('missing/extremes-joint', 'joint', (scene) => ({ ...change.onlyExtremes(scene), expect: [] })),
]

const TELLS_CELLS = (review: Review): string[] =>
  [...review.findings.map(({ headline }) => headline), ...review.questions.map(({ why }) => why)].some(
    (text) => /8[35]/.test(text) && /84/.test(text),
  )
    ? []
    : ['nothing says that the vehicle file and the log differ in their number of cells']

const FILES: Variant[] = [
  ...[83, 85].flatMap((cells) =>
    ['healthy', 'joint'].map((base) =>
      changed(
        `file/cells-${cells}-${base}`,
        base,
        (scene) => ({ ...scene, vehicle: { ...scene.vehicle, pack: { ...scene.vehicle.pack, cells } } }),
        { says: TELLS_CELLS },
      ),
    ),
  ),
  changed('file/modules-of-10', 'joint', (scene) => ({
    ...scene,
    vehicle: { ...scene.vehicle, pack: { ...scene.vehicle.pack, cells_per_module: 10 } },
  })),
  changed('file/capacity-40', 'healthy', (scene) => ({
    ...scene,
    vehicle: { ...scene.vehicle, pack: { ...scene.vehicle.pack, capacity_ah: 40 } },
    allow: ['soc-disagrees'],
  })),
  changed('file/gear-9', 'healthy', (scene) => ({
    ...scene,
    vehicle: { ...scene.vehicle, car: { ...scene.vehicle.car, gear_ratio: 9 } },
  })),
  changed('file/mass-1300', 'healthy', (scene) => ({
    ...scene,
    vehicle: { ...scene.vehicle, car: { ...scene.vehicle.car, mass_kg: 1300 } },
  })),
  changed('file/pedal-swapped', 'healthy', (scene) => ({
    ...scene,
    vehicle: {
      ...scene.vehicle,
      pedal: { ...scene.vehicle.pedal, track_1: [4.16, 0.88], track_2: [0.86, 4.12] },
    },
  })),
]

const PACKS: Variant[] = [24, 36, 48, 60, 120, 144, 192].flatMap((cells) => [
  changed(`pack/${cells}-healthy`, 'healthy', (scene, random) => change.otherSize(scene, cells, random)),
  changed(`pack/${cells}-joint`, 'healthy', (scene, random) =>
    fault.joint(change.otherSize(scene, cells, random), Math.floor(cells / 2) + 3, 0.5),
  ),
])

const SENDERS: Variant[] = [
  changed(
    'silent/inverter',
    'healthy',
    (scene) => ({
      ...change.withoutSender(scene, 'inverter', 201, 3),
      expect: [{ kind: 'node-silent', name: 'inverter' }],
    }),
    { dialect: { layout: 'pcap' } },
  ),
  changed('silent/inverter-csv', 'healthy', (scene) => change.withoutSender(scene, 'inverter', 201, 3)),
  changed('silent/battery-csv', 'joint', (scene) => change.withoutSender(scene, 'battery', 201, 3)),
  changed('silent/vehicle-csv', 'regen', (scene) => change.withoutSender(scene, 'vehicle', 201, 3)),
  ...['healthy', 'joint', 'regen', 'no-drive'].map((base) =>
    changed(`noise/3-times-${base}`, base, (scene, random) => change.noisier(scene, 3, random)),
  ),
]

export const VARIANTS: readonly Variant[] = [
  ...['healthy', 'joint', 'sense-lead', 'regen', 'no-drive', 'pedal', 'weak-cell', 'cooling'].map((base) =>
    changed(`same/${base}`, base, (scene) => scene),
  ),
  ...NAMES,
  ...LAYOUTS,
  ...CLOCKS,
  ...RATES,
  ...HOLES,
  ...MISSING,
  ...FILES,
  ...PACKS,
  ...FAULTS,
  ...STARTS,
  ...HABITS,
  ...SENDERS,
]
