import { expect, test } from 'vitest'
import { cellsAgainstCurrent } from '../../src/report/cell-picture.ts'
import { driveFromText } from '../helpers/drive-from-text.ts'

/** Six cells of 1 mΩ at 3.7 V; the joint read with cell 3 adds 0.5 mΩ; the tap between cells 5 and 6 reads 8 mV off. */
const ampere = (i: number) => 100 * Math.sin(i / 7)
const volt = (i: number, cell: number) =>
  3.7 - (cell === 3 ? 1.5e-3 : 1e-3) * ampere(i) + (cell === 5 ? 8e-3 : cell === 6 ? -8e-3 : 0)
const cells = [1, 2, 3, 4, 5, 6]
const rows = Array.from({ length: 600 }, (_, i) =>
  [i / 10, ampere(i).toFixed(2), ...cells.map((cell) => volt(i, cell).toFixed(4))].join(' '),
)
const header = ['time', 'pack_current', ...cells.map((cell) => `cell_voltage.${cell}`)].join(' ')

test('an extra resistance is a line that falls by so many mV an ampere (Ohm’s law), a sense lead two that mirror', () => {
  const drive = driveFromText([header, ...rows].join('\n'))
  const [joint, high, low] = cellsAgainstCurrent({ type: 'joint', index: 3 }, drive)
  const slope = (joint!.y.at(-1)! - joint!.y[0]!) / (joint!.x.at(-1)! - joint!.x[0]!)
  expect(slope).toBeCloseTo(-0.5, 2)
  expect(high!.label).toContain('highest')
  expect(low!.label).toContain('lowest')
  const [lower, upper] = cellsAgainstCurrent({ type: 'cell-pair', index: 5 }, drive)
  for (const y of lower!.y) expect(y).toBeCloseTo(8, 0)
  for (const y of upper!.y) expect(y).toBeCloseTo(-8, 0)
  expect(cellsAgainstCurrent({ type: 'module', index: 1 }, drive)).toEqual([])
})
