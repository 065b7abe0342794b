import { describe, expect, test } from 'vitest'
import { catalogueEntry } from '../../../shared/channels.ts'
import { findGaps } from '../../../src/drive/cleaning/gaps.ts'
import { freshRows } from '../../../src/drive/cleaning/held-rows.ts'
import { dropUnbelievable } from '../../../src/drive/cleaning/unbelievable.ts'
import { valueStep } from '../../../src/drive/cleaning/value-step.ts'

const drop = (id: string, values: readonly number[], factor = 1): { values: number[]; told: string[] } => {
  const array = Float64Array.from(values)
  const skipped = dropUnbelievable(
    catalogueEntry(id)!,
    id,
    Float64Array.from(values, (_, i) => i),
    array,
    factor,
  )
  return { values: [...array], told: skipped.map((each) => `${each.what}: ${each.count}, ${each.first}`) }
}

describe('readings that cannot be true', () => {
  test('outside the range: a cell at 0 V, a sensor at −40 °C or 250 °C', () => {
    expect(drop('cell_voltage.4', [3.9, 0, 3.8, 0])).toEqual({
      values: [3.9, Number.NaN, 3.8, Number.NaN],
      told: ['cell_voltage.4: unbelievable readings (0 V): 2, at 1.000 s'],
    })
    expect(drop('module_temperature.2', [20, -40, 21]).values[1]).toBeNaN()
    expect(drop('motor_temperature', [20, 250, 21]).values[1]).toBeNaN()
  })

  test('a placeholder inside the range, clear of all others: 655.35 A of a box that counts in 0.01 A', () => {
    expect(drop('pack_current', [10, -5, 655.35, 12, 11], 0.01).values).toEqual([10, -5, Number.NaN, 12, 11])
  })

  test('a limit that steps from 0 to 255 A is no placeholder', () => {
    expect(drop('charge_limit', [0, 0, 255, 255]).values).toEqual([0, 0, 255, 255])
  })

  test('a placeholder that the readings lead up to stays', () => {
    const ramp = Array.from({ length: 256 }, (_, i) => i)
    expect(drop('pack_current', ramp).values).toEqual(ramp)
  })
})

describe('held rows', () => {
  const cells = (rows: readonly number[]): Float64Array[] =>
    Array.from({ length: 10 }, (_, c) => Float64Array.from(rows, (row) => 3.9 + row * 0.001 + c * 0.002))

  test('a row in which no cell changed is a repeat', () => {
    const rows = Array.from({ length: 40 }, (_, i) => Math.floor(i / 2))
    expect([...freshRows(cells(rows))!.subarray(0, 6)]).toEqual([1, 0, 1, 0, 1, 0])
  })

  test('rows that all change are all fresh: no mask', () => {
    expect(freshRows(cells(Array.from({ length: 40 }, (_, i) => i)))).toBeNull()
  })

  test('one column alone must keep a steady distance between changes', () => {
    const held = Float64Array.from({ length: 400 }, (_, i) => Math.floor(i / 4) % 7)
    expect(freshRows([held], Number.POSITIVE_INFINITY)!.reduce((sum, each) => sum + each, 0)).toBe(100)
    // A slow quantity in coarse steps: no held row, only quiet.
    const quiet = Float64Array.from({ length: 400 }, (_, i) => Math.round(20 + 5 * Math.sin(i / 40)))
    expect(freshRows([quiet], Number.POSITIVE_INFINITY)).toBeNull()
  })
})

describe('gaps and steps', () => {
  test('stretches longer than five periods and half a second', () => {
    expect(findGaps([0, 0.1, 0.2, 0.9, 1, 1.3], 0.1)).toEqual([[0.2, 0.9]])
  })

  test('quantisation, also where the file rounds', () => {
    expect(valueStep(Array.from({ length: 200 }, (_, i) => 3.9 + (i % 17) * 0.001))).toBeCloseTo(0.001, 9)
    expect(valueStep(Array.from({ length: 200 }, (_, i) => 20 + (i % 9) * 0.5))).toBe(0.5)
    expect(valueStep(Array.from({ length: 200 }, (_, i) => Math.sin(i)))).toBe(0)
    expect(valueStep([1, 1, 1])).toBe(0)
  })
})
