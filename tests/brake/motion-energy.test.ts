import { expect, it } from 'vitest'
import { kineticWh } from '../../src/brake/models/motion-energy.ts'

it('1500 kg from 100 km/h holds 160.751 Wh (½ m v²)', () => {
  expect(kineticWh(1500, 100, 0)).toBeCloseTo(160.751, 3)
})
