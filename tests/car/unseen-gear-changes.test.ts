import { expect, test } from 'vitest'
import { unseenGearChanges } from '../../src/car/unseen-gear-changes.ts'

/** A gearbox parts motor and wheels while it changes: no torque can reach them (common practice, no source). */
const timeS = Float64Array.from({ length: 200 }, (_, i) => i / 20)
const at = (nm: (s: number) => number): Float64Array => timeS.map((s) => nm(s))
const held = at(() => 12)

test('regeneration that goes and comes back under a held press is a change of gear', () => {
  const found = unseenGearChanges(
    timeS,
    at((s) => (s > 4 && s < 4.8 ? 0.1 : -30)),
    held,
    0.4,
  )
  expect(found).toHaveLength(1)
  expect(found[0]![0]).toBeCloseTo(3.45, 6)
  expect(found[0]![1]).toBeCloseTo(5.75, 6)
})

test('a start, an end, a release and a step to another torque are none', () => {
  for (const [nm, press] of [
    [(s: number) => (s > 4 ? -30 : 0), held],
    [(s: number) => (s > 4 ? 0 : -30), held],
    [(s: number) => (s > 4 && s < 4.8 ? 0 : -30), at((s) => (s > 4 && s < 4.8 ? 0 : 12))],
    [(s: number) => (s > 4 && s < 4.8 ? 0 : -30), at((s) => (s > 4 && s < 4.8 ? 9 : 12))],
    [(s: number) => (s > 4 && s < 4.8 ? -5 : -30), held],
    [(s: number) => (s > 4 && s < 7.2 ? 0 : -30), held],
  ] as const)
    expect(unseenGearChanges(timeS, at(nm), press, 0.4)).toEqual([])
})
