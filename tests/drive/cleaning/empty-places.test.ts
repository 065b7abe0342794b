import { expect, test } from 'vitest'
import type { RawLog, RawSeries } from '../../../shared/raw-log.ts'
import type { Vehicle } from '../../../shared/vehicle.ts'
import { buildDrive } from '../../../src/drive/build-drive.ts'

const timeS = Float64Array.from({ length: 120 }, (_, i) => i / 10)
const series = (name: string, unit: string, value: (i: number) => number): RawSeries => ({
  name,
  unit,
  channel: null,
  timeS,
  values: timeS.map((_, i) => value(i)),
  fresh: null,
  labels: null,
  node: null,
})
const log = (all: readonly RawSeries[]): RawLog => ({
  name: 'battery.csv',
  sha256: '0'.repeat(64),
  layout: 'wide CSV',
  rows: timeS.length,
  skipped: [],
  series: all,
  startedAt: null,
  fingerprint: 'x',
  bus: null,
  events: [],
  clockSteps: [],
})
/** 12 cells, then `empty` places that always read `value`; 4 sensors, then as many. */
function drive(empty: number, volt: number, celsius: number, vehicle: Vehicle = {}) {
  const cell = (k: number): RawSeries =>
    series(`Cell ${k}`, 'V', (i) => (k > 12 ? volt : 3.7 + k / 1000 - (i % 10) / 200))
  const sensor = (k: number): RawSeries =>
    series(`Module temp ${k}`, '°C', (i) => (k > 4 ? celsius : 17 + Math.floor((i + k) / 50) / 2))
  const count = (fitted: number): number[] => Array.from({ length: fitted + empty }, (_, k) => k + 1)
  return buildDrive([log([...count(12).map(cell), ...count(4).map(sensor)])], { vehicle })
}
const numbered = (built: ReturnType<typeof drive>, family: string): number =>
  [...built.channels.keys()].filter((id) => id.startsWith(`${family}.`)).length

test.each([
  [0, -40],
  [65.535, 250],
  [5, 85],
])('empty places that read %s V and %s °C are no cells and no sensors, and that is said', (volt, celsius) => {
  const built = drive(4, volt, celsius)
  expect(numbered(built, 'cell_voltage')).toBe(12)
  expect(numbered(built, 'module_temperature')).toBe(4)
  expect(built.assumptions.join(' ')).toContain('cells 13 to 16 never gave a reading of this pack')
  expect(built.assumptions.join(' ')).toContain('temperature sensors 5 to 8 never gave')
})

test('a last one alone may be a fault, unless the vehicle file does not count it', () => {
  expect(numbered(drive(1, 0, -40), 'cell_voltage')).toBe(13)
  const counted: Vehicle = { pack: { cells: 12, sensors_of_module: [[1, 2, 3, 4]] } }
  expect(numbered(drive(1, 0, -40, counted), 'cell_voltage')).toBe(12)
  expect(numbered(drive(1, 0, -40, counted), 'module_temperature')).toBe(4)
})

test('what the vehicle file counts is never an empty place', () => {
  const built = drive(3, 0, -40, { pack: { cells: 15, sensors_of_module: [[1, 2, 3, 4, 5, 6, 7]] } })
  expect(numbered(built, 'cell_voltage')).toBe(15)
  expect(numbered(built, 'module_temperature')).toBe(7)
})
