import { describe, expect, test } from 'vitest'
import type { RawLog, RawSeries } from '../../shared/raw-log.ts'
import { nameLogs } from '../../src/naming/name-logs.ts'

/** Layouts are the trade's (common practice, no source); cells in series add up to the pack (Kirchhoff's voltage law). */
const timeS = Float64Array.from({ length: 200 }, (_, i) => i / 10)
const load = (i: number): number => 100 * Math.sin(i / 9) ** 2
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
const cells = (count: number, from: number, name = (n: number) => `U${n} [mV]`): RawSeries[] =>
  Array.from({ length: count }, (_, c) =>
    series(name(c + 1), 'mV', (i) => Math.round(3700 + from + c - load(i) * 0.5)),
  )
const log = (name: string, all: RawSeries[]): RawLog => ({
  name,
  sha256: name,
  layout: 'wide CSV',
  rows: timeS.length,
  skipped: [],
  series: all,
  startedAt: null,
  fingerprint: name,
  bus: null,
  events: [],
  clockSteps: [],
})
const temperature = (): RawSeries => series('T1 [degC]', 'degC', (i) => 20 + Math.round(i / 40))
const pack = (count: number): RawSeries =>
  series('Pack voltage [V]', 'V', (i) => (3.705 - load(i) * 5e-4) * count)
const ids = (logs: RawLog[], vehicle = {}): string[][] =>
  nameLogs(logs, vehicle).map((all) => all.map(({ id, sureness }) => (sureness > 0 ? id : '-')))

describe('cells that each part counts from 1', () => {
  const modules = (names: readonly string[]): RawLog[] =>
    names.map((name, m) => log(name, [...cells(m === 0 ? 14 : 12, 20 * m), temperature()]))

  test('a file a module: counted on in the order of the numbers, with the one sensor of each', () => {
    const found = ids(modules(['module_10.csv', 'module_9.csv.gz', 'module_8.csv']))
    expect(found.map((all) => [all[0], all.at(-2), all.at(-1)])).toEqual([
      ['cell_voltage.25', 'cell_voltage.38', 'module_temperature.3'],
      ['cell_voltage.13', 'cell_voltage.24', 'module_temperature.2'],
      ['cell_voltage.1', 'cell_voltage.12', 'module_temperature.1'],
    ])
  })

  test('boxes go in the order of the vehicle file', () => {
    const found = ids(modules(['rear.csv', 'front.csv']), {
      pack: { cells: 26, box_of_module: ['front', 'rear'] },
    })
    expect(found.map((all) => all[0])).toEqual(['cell_voltage.13', 'cell_voltage.1'])
  })

  test('the pack’s voltage tells parts from two loggers of the same cells', () => {
    const two = (count: number): string[][] =>
      ids([log('a.csv', cells(12, 0)), log('b.csv', cells(12, 3)), log('car.csv', [pack(count)])])
    expect(two(24)[1]![0]).toBe('cell_voltage.13')
    expect(two(12)[1]![0]).toBe('cell_voltage.1')
  })

  test('nothing shows it: two logs of one name each stay as they are', () => {
    expect(ids(modules(['drive.csv', 'drive-2.csv']))[1]![0]).toBe('cell_voltage.1')
  })

  test('two boxes in one file, every name twice', () => {
    const both = (count: number): string[] =>
      ids([log('log.csv', [...cells(12, 0), ...cells(8, 30, (n) => `U${n} [mV] (2)`), pack(count)])])[0]!
    expect(both(20).slice(12, 20)).toEqual(Array.from({ length: 8 }, (_, c) => `cell_voltage.${13 + c}`))
    expect(both(12).slice(12, 20)).toEqual(Array(8).fill('-'))
  })
})
