import { expect, test } from 'vitest'
import { cellLimits } from '../../src/car/cell-limits.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

const timeS = Array.from({ length: 600 }, (_, i) => i)
const limitsOf = (volts: (s: number) => number, amperes = 40) =>
  cellLimits(
    gatherFacts(
      driveFromColumns(timeS, {
        pack_current: timeS.map((s) => (s % 20 < 10 ? amperes : -amperes / 3)),
        'cell_voltage.1': timeS.map(volts),
        'cell_voltage.2': timeS.map((s) => volts(s) + 0.002),
      }),
      {},
    ),
  )

// Titanate works from 1.5 to 2.8 V, the rest from 2.5 V up: cell makers' data sheets, from memory.
test('cells that work at 2.2 V are titanate', () => {
  expect(limitsOf((s) => 2.3 - 0.0001 * s - (s % 20 < 10 ? 0.06 : 0)).minV).toBe(1.5)
})
test('empty cells of another kind fall, and are past their limit', () => {
  expect(limitsOf((s) => 2.8 - 0.0015 * s).minV).toBe(2.5)
})
test('without use nothing is taken for titanate', () => {
  expect(limitsOf(() => 2.3, 0.1).minV).toBe(2.5)
})
