import { parse } from 'csv-parse/sync'
import { describe, expect, it } from 'vitest'
import type { Review } from '../../shared/review.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { columnsOf, TABLE_NAMES } from '../../src/tables/columns.ts'
import { makeTable } from '../../src/tables/make-table.ts'
import { tableCsv } from '../../src/tables/table-csv.ts'
import { smallDrive } from '../helpers/small-drive.ts'

const cell = (index: number, module: number, resistance: number | null): Review['cells'][number] => ({
  ...{ index, module, between_cells: null, resistance_mohm: resistance, resistance_mohm_plus_minus: 0.1 },
  ...{ resistance_window_s: 0.2, polarisation_mohm: null, polarisation_mohm_plus_minus: null },
  ...{ joint_extra_mohm: null, joint_extra_mohm_plus_minus: null, rest_offset_mv: null },
  ...{
    rest_offset_mv_plus_minus: null,
    rest_s: null,
    min_v: 3.5,
    max_v: 4.1,
    class: index === 3 ? 'weak, "odd"' : null,
  },
})

const review: Review = {
  ...reviewDrive(smallDrive(), {}),
  cells: [cell(1, 1, 1.1), cell(2, 1, 1.3), cell(3, 2, 2), cell(4, 2, null)],
}

describe('tables', () => {
  it('group with mean, spread and extremes (against figures worked by hand)', () => {
    const { summary } = makeTable(review, 'cells', { group: 'module' })
    const [first, second] = summary
    expect(first).toMatchObject({ group: '1', rows: 2 })
    expect(first!.figures.resistance_mohm!.mean).toBeCloseTo(1.2, 12)
    // Sample standard deviation of 1.1 and 1.3: sqrt(0.1² + 0.1²) = 0.141421…
    expect(first!.figures.resistance_mohm!.spread).toBeCloseTo(Math.SQRT2 / 10, 12)
    expect(second!.figures.resistance_mohm).toEqual({ mean: 2, spread: null, min: 2, max: 2 })
    expect(second!.figures.joint_extra_mohm).toBeUndefined()
  })

  it('sort by a column, rows without a value last, either way', () => {
    const order = (falling: boolean) =>
      makeTable(review, 'cells', { sort: { key: 'resistance_mohm', falling } }).columns[0]!.values
    expect(order(true)).toEqual([3, 2, 1, 4])
    expect(order(false)).toEqual([1, 2, 3, 4])
  })

  it('are there for every name, also where the review has no rows', () => {
    const empty = { ...review, cells: [], modules: [], starts: [], regen: null }
    for (const name of TABLE_NAMES) {
      const table = makeTable(empty, name, { group: 'module' })
      expect(table.summary).toEqual([])
      for (const key of table.groups) expect(table.columns.some((column) => column.key === key)).toBe(true)
    }
  })

  it('take the box of a module from the vehicle file', () => {
    const { columns } = columnsOf(review, 'cells', { pack: { box_of_module: ['front', 'rear'] } })
    expect(columns.find(({ key }) => key === 'box')!.values).toEqual(['front', 'front', 'rear', 'rear'])
  })
})

describe('a table as CSV', () => {
  it('reads back by RFC 4180 with labels, units, then rows (read by csv-parse)', async () => {
    const csv = tableCsv(review, 'cells')
    expect(csv.endsWith('\r\n')).toBe(true)
    const [labels, units, ...rows] = parse(csv) as string[][]
    expect(labels!.slice(0, 2)).toEqual(['Cell', 'Module'])
    expect(units![labels!.indexOf('Resistance')]).toBe('mΩ')
    expect(rows).toHaveLength(4)
    expect(rows[2]![labels!.indexOf('Class')]).toBe('weak, "odd"')
    expect(rows[3]![labels!.indexOf('Resistance')]).toBe('')
    expect(rows[0]![labels!.indexOf('Resistance')]).toBe('1.1')
  })

  it('refuses a name that it does not know', async () => {
    expect(() => tableCsv(review, 'secrets')).toThrow('There is no table "secrets"; cells, modules')
  })
})
