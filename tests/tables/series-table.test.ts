import { expect, it } from 'vitest'
import { seriesTable } from '../../src/tables/series-table.ts'

const row = (place: string, at: number, value: number) => ({ place, unit: 'mΩ', at, value })
const ROWS = [
  ...[1, 1.2, 0.8, 1, 3].map((value, at) => row('Cell 1', at, value)),
  ...[2, 2.2, 1.8, 2, 2.1].map((value, at) => row('Cell 2', at, value)),
  row('Cell 3', 4, 7),
]
const values = (table: ReturnType<typeof seriesTable>, key: string) =>
  table.columns.find((each) => each.key === key)!.values

it('joins, groups, describes and takes the difference; what moved most of its spread comes first', () => {
  const table = seriesTable('drives', 'x', ROWS, 'previous')
  expect(values(table, 'place')).toEqual(['Cell 1', 'Cell 2', 'Cell 3'])
  expect(
    values(table, 'difference').map((each) => (typeof each === 'number' ? Number(each.toFixed(6)) : each)),
  ).toEqual([2, 0.1, null])
  expect(values(table, 'last')).toEqual([3, 2.1, 7])
  // sample standard deviation of 1, 1.2, 0.8, 1: √(0.08/3) by hand
  expect(values(table, 'spread')[0]).toBeCloseTo(Math.sqrt(0.08 / 3), 9)
  expect(values(table, 'count')).toEqual([4, 4, 0])
  const kit = seriesTable('kit', 'x', ROWS, 'others')
  expect(values(kit, 'difference')[1]).toBeCloseTo(0.1, 9)
})
