import { expect, test } from 'vitest'
import type { RawSeries } from '../../shared/raw-log.ts'
import { cleanSeries } from '../../src/drive/cleaning/clean-channel.ts'
import { nameSeries } from '../../src/naming/name-series.ts'

const timeS = Float64Array.from({ length: 200 }, (_, i) => i / 10)
const series = (name: string, value: (i: number) => number): RawSeries => ({
  name,
  unit: null,
  channel: null,
  timeS,
  values: timeS.map((_, i) => Math.round(value(i) * 1000) / 1000),
  fresh: null,
  labels: null,
  node: null,
})
const load = (i: number): number => 100 * Math.sin(i / 9) ** 2
const cells = Array.from({ length: 24 }, (_, c) =>
  series(`Cell ${c + 1}`, (i) => 3.7 + c * 0.001 - load(i) * 5e-4),
)
const pack = (i: number): number => 89.1 - load(i) * 0.012
const ids = (all: readonly RawSeries[]): string[] => nameSeries(all).map((each) => each.id)

test('the column that stays at the sum of the cells is the pack, whatever it is called', () => {
  expect(ids([...cells, series('Quux', pack)])[24]).toBe('pack_voltage')
})

test('two such columns: neither is taken', () => {
  expect(ids([...cells, series('Quux', pack), series('Quuz', pack)]).slice(24)).toEqual(['Quux', 'Quuz'])
})

test('pack and link told the wrong way round change places', () => {
  const behind = (i: number): number => (i < 80 ? 0.2 : pack(i))
  expect(
    ids([...cells, series('Battery voltage', behind), series('Inverter voltage', pack)]).slice(24),
  ).toEqual(['link_voltage', 'pack_voltage'])
  expect(
    ids([...cells, series('Battery voltage', pack), series('Inverter voltage', behind)]).slice(24),
  ).toEqual(['pack_voltage', 'link_voltage'])
})

test('a pack logged in tenths of a volt is known by its cells all the same', () => {
  const [named] = nameSeries([...cells, series('Pack voltage', (i) => 10 * pack(i))]).slice(24)
  expect(named!.why).toMatch(/sum of the 24 cells/)
  const cleaned = cleanSeries(nameSeries([...cells, series('Pack voltage', (i) => 10 * pack(i))]))
  expect(cleaned[24]!.conversion).toMatch(/^0.1 V \/ 10 .*sum of the cells/)
  expect(cleaned[24]!.series.values[0]).toBeCloseTo(89.1, 6)
})
