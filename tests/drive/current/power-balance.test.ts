import { expect, it } from 'vitest'
import { type Bins, weighCurrent } from '../../../src/drive/current/power-balance.ts'

const count = 300_000
const amperes = Float64Array.from({ length: count }, (_, i) => 40 * Math.sin(i / 7))
const bins: Omit<Bins, 'means' | 'placeOf' | 'startOf'> = {
  stepS: 1,
  count,
  volts: amperes.map((a) => 360 - 0.08 * a),
  voltsFrom: 'pack_voltage',
  mechanicalW: new Float64Array(count).fill(Number.NaN),
  hasMechanical: false,
}

it('weighs a window by its own bins, with the voltage of the bins beside it', () => {
  expect(weighCurrent(bins, amperes, 600, 660).ohm).toBeCloseTo(0.08, 6)
  expect(
    weighCurrent(
      bins,
      amperes.map((a, i) => (i < 600 ? -a : a)),
      600,
      660,
    ).score,
  ).toBeGreaterThan(6)
})
