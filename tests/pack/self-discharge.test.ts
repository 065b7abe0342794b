import { describe, expect, it } from 'vitest'
import { selfDischarge } from '../../src/pack/questions/self-discharge.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'
import { Random } from '../simulator/random.ts'

/**
 * A pack of 24 cells after two minutes of 80 A, then `hours` without load, a row every ten seconds in steps of 1 mV.
 * Each cell comes back by 12 mV (± 5 %; cell 9 is weak: 21 mV, and slower) in parts of 5 min and 1 h.
 * `drainMvDay` of cell 17 by Ohm and Coulomb: 0.1 A out of 60 A·h is 4 % a day, at 7 mV a percent 28 mV.
 */
function night(
  hours: number,
  drainMvDay: number,
  more: Record<string, ArrayLike<number>> = {},
  high = 0,
  seed = 5,
) {
  const random = new Random(seed)
  const timeS = Float64Array.from({ length: Math.round(hours * 360) + 13 }, (_, i) => 10 * i)
  const load = (t: number): boolean => t < 120
  const back = (t: number, slow: number): number =>
    (1 - slow) * (1 - Math.exp(-t / 300)) + slow * (1 - Math.exp(-t / 3600))
  const columns: Record<string, ArrayLike<number>> = {
    pack_current: timeS.map((t) => (load(t) ? 80 : 0) + 0.1 * random.normal()),
    ...more,
  }
  for (let cell = 1; cell <= 24; cell++) {
    const weak = cell === 9
    const amplitude = weak ? 0.021 : 0.012 * (1 + 0.05 * random.normal())
    const offset = 0.002 * random.normal() + (cell === 17 ? high : 0)
    columns[`cell_voltage.${cell}`] = timeS.map((t) => {
      const rest = load(t) ? -0.1 : amplitude * (back(t - 120, weak ? 0.6 : 0.4) - 1)
      const drain = cell === 17 ? (drainMvDay * t) / 86400e3 : 0
      return Math.round((3.7 + offset + rest - drain + 0.0008 * random.normal()) * 1000) / 1000
    })
  }
  const drive = driveFromColumns(timeS, columns)
  return selfDischarge(gatherFacts(drive, { pack: { cells: 24, cells_per_module: 12, chemistry: 'nmc' } }))
}

describe('a cell that empties by itself', () => {
  it('is found in a night at rest, by its true rate', () => {
    const { findings, questions } = night(10, 28)
    expect(findings.map((each) => [each.kind, each.subject.index])).toEqual([['cell-self-discharge', 17]])
    const [found] = findings
    expect(found!.low!).toBeLessThan(28)
    expect(found!.high!).toBeGreaterThan(28)
    expect(questions[0]!.state).toBe('found')
  })

  it('is found in 10 of 10 nights, and in none of 10 healthy ones', () => {
    for (let seed = 1; seed <= 10; seed++) {
      const drain = 15 + 5 * seed
      const found = night(8 + seed / 2, drain, {}, 0, 100 + seed).findings
      expect([seed, ...found.map(({ subject }) => subject.index)]).toEqual([seed, 17])
      expect(Math.abs(found[0]!.value! - drain)).toBeLessThan(1.5 * found[0]!.plus_minus!)
      expect([seed, ...night(8 + seed / 2, 0, {}, 0, 200 + seed).findings]).toEqual([seed])
    }
  })

  it('is not seen in a healthy pack whose cells come back from load by different ways', () => {
    for (const hours of [0.2, 1, 4, 10]) expect(night(hours, 0).findings).toEqual([])
    expect(night(10, 0).questions[0]).toMatchObject({ state: 'nothing-found', unit: 'mV/day' })
    expect(night(10, 0).questions[0]!.smallest_seen).toBeLessThan(10)
  })

  it('asks for a night where the rest is too short for so small a fall', () => {
    const { findings, questions } = night(0.3, 28)
    expect(findings).toEqual([])
    expect(questions[0]).toMatchObject({ state: 'not-assessed' })
    expect(questions[0]!.to_assess).toMatch(/over night/)
  })

  it('says nothing of a cell that the balancer bled, and only notes one that it may have bled', () => {
    const rows = 10 * 360 + 13
    expect(night(10, 28, { 'balancing.17': new Float64Array(rows).fill(1) }).findings).toEqual([])
    const [noted] = night(10, 28, {}, 0.02).findings
    expect(noted).toMatchObject({ severity: 'note', subject: { index: 17 } })
    expect(noted!.rivals[0]!.for).toMatch(/balancer/)
  })
})
