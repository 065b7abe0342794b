import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Vehicle } from '../../shared/vehicle.ts'
import { openDrive } from '../../src/open/open-drive.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { type Box, type BoxStyle, oneBox, type Reading, twoBoxes } from '../simulator/boxes.ts'
import type { Car, CarChanges } from '../simulator/car.ts'
import type { DriverOptions } from '../simulator/driver.ts'
import { expectedFindings } from '../simulator/expected.ts'
import type { Fault } from '../simulator/faults.ts'
import { Random } from '../simulator/random.ts'
import { randomCase } from '../simulator/random-case.ts'
import { simulate } from '../simulator/simulate.ts'
import { writeWideCsv } from '../simulator/writers/wide-csv.ts'

/**
 * Drives that are unlike the usual one, a scenario at a time, healthy unless a scenario says otherwise: very small and
 * very large packs, slow, coarse and noisy boxes, channels missing, one unit's log alone, charging and bench tests,
 * logs that begin or end while driving, clocks far apart. Written as wide CSV, read back, reviewed with and without
 * the vehicle file; every finding above `note` that no fault explains is printed, counts at the end.
 *
 *     npx tsx tests/studies/breadth.ts [drives a scenario, default 2] [first seed] [scenario …]
 */
interface Scenario {
  readonly car?: CarChanges
  readonly style?: Partial<BoxStyle>
  readonly driver?: Partial<DriverOptions>
  readonly bench?: boolean
  readonly kind?: 'urban' | 'rural' | 'mixed' | 'gentle' | 'hard'
  readonly without?: readonly string[]
  readonly boxes?: (car: Car, style: Partial<BoxStyle>, random: Random) => readonly Box[]
  readonly faults?: (car: Car, random: Random) => Fault[]
  /** Kinds that the scenario itself brings. */
  readonly allow?: readonly string[]
}

const pack = (modules: number, size: number, more: object = {}): CarChanges => ({
  pack: { cellsPerModule: Array.from({ length: modules }, () => size), ...more },
})
/** A light car to go with few cells. */
const light = { massKg: 450, motorMaxW: 9000, motorMaxNm: 60, dragAreaM2: 0.5 }
const TRACKS = ['pedal_track_1', 'pedal_track_2', 'pedal_position']
const CONTACTORS = ['contactor_precharge', 'contactor_positive', 'contactor_negative']
const STATES = ['bms_state', 'bms_faults', 'inverter_state']

const everywhere = (style: Partial<BoxStyle>, car: Car, change: (reading: Reading) => Reading): Box[] =>
  oneBox(car, style).map((box) => ({ ...box, readings: box.readings.map(change) }))
const cut = (style: Partial<BoxStyle>, car: Car, fromS: number, toS: number): Box[] =>
  oneBox(car, style).map((box) => ({ ...box, fromS, toS }))
const far =
  (offsetS: number) =>
  (car: Car, style: Partial<BoxStyle>, random: Random): Box[] =>
    twoBoxes(car, style, { vehicle: { offsetS, driftPpm: 60 * random.normal(), startsAt: null } })

const SCENARIOS: Readonly<Record<string, Scenario>> = {
  'cells-12': { car: { ...pack(1, 12), road: light, brake: { maxNm: 20 } } },
  'cells-20': { car: { ...pack(2, 10), road: light, brake: { maxNm: 20 } } },
  'cells-120': { car: pack(10, 12) },
  'lfp-16': {
    car: { ...pack(2, 8, { chemistry: 'lfp', capacityAh: 100 }), road: light, brake: { maxNm: 15 } },
  },
  'lfp-104': { car: pack(13, 8, { chemistry: 'lfp', capacityAh: 60, voltMin: 2.5, voltMax: 3.65 }) },
  'one-hertz': { style: { cellHz: 1, vehicleHz: 1, currentHz: 1, switchHz: 1 } },
  'two-hertz': { style: { cellHz: 2, vehicleHz: 2, currentHz: 2, switchHz: 2 } },
  'five-hertz-held': { style: { cellHz: 1, vehicleHz: 5, currentHz: 5, switchHz: 1, held: true } },
  'hundred-hertz': { style: { cellHz: 20, vehicleHz: 100, currentHz: 100, switchHz: 100 } },
  'ten-millivolts': { style: { cellStepV: 0.01, cellNoiseV: 0.002 } },
  'held-slow-switches': { style: { held: true, vehicleHz: 100, switchHz: 2, cellHz: 2 } },
  noisy: {
    boxes: (car, style) =>
      everywhere(style, car, (each) => ({ ...each, ...(each.noise ? { noise: 4 * each.noise } : {}) })),
  },
  filtered: {
    boxes: (car, style) => everywhere(style, car, (each) => ({ ...each, filterS: each.step ? 0.15 : 0 })),
  },
  jittered: { boxes: (car, style) => oneBox(car, style).map((box) => ({ ...box, jitterS: 0.004 })) },
  unsigned: { style: { unsigned: true } },
  turned: { style: { turned: true, held: true } },
  'turned-on-charge': { style: { turnedOnCharge: true }, driver: { charge: { durationS: 200, amps: 12 } } },
  offset: { style: { currentOffsetA: 4, currentGain: 0.02 }, allow: ['current-offset'] },
  clipped: { style: { currentClip: [-60, 60] }, allow: ['current-clipped'] },
  'no-brake-pressure': { without: ['brake_pressure'] },
  'no-brake': { without: ['brake_pressure', 'brake_switch', 'brake_lamp'] },
  'no-torque': { without: ['torque', 'torque_request'] },
  'no-torque-no-motor': { without: ['torque', 'torque_request', 'motor_speed', 'inverter_dc_current'] },
  'no-key': { without: ['key_on', 'drive_ready'] },
  'no-contactors': { without: CONTACTORS },
  'no-contactors-no-states': { without: [...CONTACTORS, ...STATES] },
  'no-link': { without: ['link_voltage'] },
  'no-pack-voltage': { without: ['pack_voltage'] },
  'no-pack-current': { without: ['pack_current'] },
  'no-current': { without: ['pack_current', 'inverter_dc_current'] },
  'no-speed': { without: ['speed'] },
  'no-speed-no-motor': { without: ['speed', 'motor_speed'] },
  'no-pedal': { without: TRACKS },
  'one-track': { without: ['pedal_track_2', 'pedal_position'] },
  'no-cells': { without: ['cell_voltage.'] },
  'no-temperatures': { without: ['module_temperature.', 'coolant_in', 'coolant_out'] },
  'no-selector': { without: ['selector'] },
  bare: {
    without: [
      ...STATES,
      'key_on',
      'charge_plug',
      'inertia_closed',
      'interlock_closed',
      'selector',
      'drive_ready',
      'lv_voltage',
      'isolation_resistance',
      'charge_limit',
      'discharge_limit',
    ],
  },
  'battery-only': { boxes: (car, style) => twoBoxes(car, style).slice(0, 1) },
  'vehicle-only': { boxes: (car, style) => twoBoxes(car, style).slice(1) },
  'inverter-only': {
    boxes: (car, style) =>
      oneBox(car, style).map((box) => ({
        ...box,
        readings: box.readings.filter(({ node }) => node === 'inverter'),
      })),
  },
  'begins-driving': { boxes: (car, style) => cut(style, car, 90, 1e9) },
  'ends-driving': { boxes: (car, style) => cut(style, car, 0, 150) },
  'inside-driving': { boxes: (car, style) => cut(style, car, 80, 190) },
  short: { boxes: (car, style) => cut(style, car, 100, 130) },
  bench: { bench: true },
  'bench-slow': { bench: true, style: { cellHz: 1, vehicleHz: 10, switchHz: 1 } },
  charging: {
    bench: true,
    driver: { restS: 20, charge: { durationS: 400, amps: 16 } },
    boxes: (car, style) => cut(style, car, 48, 1e9),
  },
  'charging-battery-only': {
    bench: true,
    driver: { restS: 20, charge: { durationS: 400, amps: 8 } },
    boxes: (car, style) =>
      twoBoxes(car, style)
        .slice(0, 1)
        .map((box) => ({ ...box, fromS: 40 })),
  },
  'drive-and-charge': { driver: { restS: 40, charge: { durationS: 300, amps: 20 } } },
  'long-rest': { driver: { restS: 400 } },
  'clock-20-s': { boxes: far(20) },
  'clock-minus-20-s': { boxes: far(-20) },
  'clock-5-min': { boxes: far(300) },
  'clock-40-min': { boxes: far(2400) },
  gentle: { kind: 'gentle' },
  hard: { kind: 'hard' },
  cold: { car: { heat: { ambientC: -3, startC: 4 } } },
  hot: { car: { heat: { ambientC: 36, startC: 36 } } },
  'lift-off-strong': { car: { brake: { liftNm: 45, maxNm: 60 } } },
  'no-regeneration': { car: { brake: { liftNm: 0, maxNm: 0 } } },
  'heater-on': { car: { heaterW: 3500 } },
  wheels: {
    style: {
      extra: [
        {
          channels: ['wheel_speed.1', 'wheel_speed.2', 'wheel_speed.3', 'wheel_speed.4'],
          rateHz: 20,
          step: 0.1,
          noise: 0.1,
          node: 'vehicle',
        },
        { channels: ['brake_travel'], rateHz: 20, step: 0.5, noise: 0.3, node: 'vehicle' },
        {
          channels: ['brake_pressure_front', 'brake_pressure_rear'],
          rateHz: 20,
          step: 0.1,
          noise: 0.2,
          node: 'vehicle',
        },
        { channels: ['hottest_temperature', 'coldest_temperature'], rateHz: 1, step: 1, node: 'battery' },
        {
          channels: ['lowest_cell_voltage', 'highest_cell_voltage', 'mean_cell_voltage'],
          rateHz: 2,
          step: 0.001,
          node: 'battery',
        },
      ],
    },
  },
  'few-cells-logged': {
    without: ['cell_voltage.'],
    style: {
      extra: [
        {
          channels: [
            'lowest_cell_voltage',
            'highest_cell_voltage',
            'lowest_cell_number',
            'highest_cell_number',
          ],
          rateHz: 2,
          step: 0.001,
          noise: 0.0005,
          node: 'battery',
        },
      ],
    },
  },
}

async function main(): Promise<void> {
  const args = process.argv.slice(2)
  const numbers = args.filter((each) => /^\d+$/.test(each)).map(Number)
  const [drives = 2, first = 1] = numbers
  const only = args.filter((each) => !/^\d+$/.test(each))
  const folder = mkdtempSync(join(tmpdir(), 'aftermile-breadth-'))
  const counts = new Map<string, number>()
  let reviews = 0
  let clean = 0
  for (const [name, scenario] of Object.entries(SCENARIOS)) {
    if (only.length > 0 && !only.includes(name)) continue
    for (let seed = first; seed < first + drives; seed++) {
      const random = new Random(seed).fork(name)
      const options = randomCase({
        seed: 9000 + seed * 131 + name.length,
        durationS: [220, 320],
        ...(scenario.car ? { car: scenario.car } : {}),
        ...(scenario.style ? { style: scenario.style } : {}),
        ...(scenario.faults ? { faults: scenario.faults } : {}),
        ...(scenario.kind ? { kind: scenario.kind } : {}),
      })
      const style = options.style!
      const made = simulate({
        ...options,
        ...(scenario.bench ? { route: null } : {}),
        // nobody leaves a car to roll while it charges
        ...(scenario.driver?.charge && !scenario.bench
          ? { route: { ...options.route, slopePercent: 0 } }
          : {}),
        driver: { ...options.driver, ...scenario.driver },
        boxes: (car) => scenario.boxes?.(car, style, random) ?? oneBox(car, style),
      })
      const paths = made.boxes.map((box) => {
        const path = join(folder, `${name}-${seed}-${box.name}.csv`)
        const bytes = writeWideCsv(made.samples, box, {
          delimiter: ',',
          decimal: '.',
          names: random.pick(['words', 'snake', 'camel']),
          time: 'seconds',
          unitsIn: 'brackets',
          without: scenario.without ?? [],
        })
        writeFileSync(path, bytes)
        return path
      })
      if (process.env.KEEP)
        writeFileSync(join(process.env.KEEP, `${name}-${seed}-vehicle.json`), JSON.stringify(made.vehicle))
      const { allow, expect } = expectedFindings(made)
      const allowed = new Set([...(scenario.allow ?? []), ...allow, ...expect.map(({ kind }) => kind)])
      const lines: string[] = []
      for (const vehicle of [made.vehicle, {}] as Vehicle[]) {
        const bare = vehicle.pack === undefined ? ' bare' : ''
        reviews++
        try {
          const review = reviewDrive(await openDrive(paths, { vehicle }), vehicle)
          const loud = review.findings.filter(
            (finding) => finding.severity !== 'note' && !allowed.has(finding.kind),
          )
          if (loud.length === 0) clean++
          for (const each of loud) {
            counts.set(each.kind + bare, (counts.get(each.kind + bare) ?? 0) + 1)
            lines.push(
              `    FALSE${bare} ${each.severity} ${each.kind} ${each.subject.index ?? each.subject.name ?? ''} at ${each.span_s?.[0]?.toFixed(1)} s: ${each.headline}`,
            )
          }
          for (const { why } of review.questions)
            if (/broke off/.test(why)) lines.push(`    BROKE${bare} ${why}`)
        } catch (error) {
          counts.set(`unread${bare}`, (counts.get(`unread${bare}`) ?? 0) + 1)
          lines.push(`    UNREAD${bare} ${(error as Error).message}`)
        }
      }
      const { cellHz, vehicleHz, currentHz, switchHz, held } = style
      console.log(
        `${name} ${seed} ${options.car?.name} ${options.car?.pack?.chemistry} cells ${cellHz} vehicle ${vehicleHz} current ${currentHz} switches ${switchHz} Hz${held ? ' held' : ''}`,
      )
      for (const line of lines) console.log(line)
      if (process.env.KEEP) continue
      for (const path of paths) rmSync(path)
    }
  }
  if (!process.env.KEEP) rmSync(folder, { recursive: true })
  else console.log(folder)
  console.log(`\n${clean} of ${reviews} reviews with nothing above a note`, [...counts])
}

await main()
