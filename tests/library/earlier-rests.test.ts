import { describe, expect, it } from 'vitest'
import type { Review } from '../../shared/review.ts'
import { askedOnce } from '../../src/library/earlier-signals.ts'
import { restDrains } from '../../src/library/rest-drains.ts'
import { Random } from '../simulator/random.ts'
import { beside, twoDrives } from '../studies/self-discharge.ts'

/** A part of `npm run study:self-discharge`, small enough for every test run. */
describe('a cell that emptied between two drives', () => {
  it.each(['first', 'second'] as const)(
    'is found on the %s simulator, with its rate, and none in a healthy pair',
    (model) => {
      const ill = twoDrives(model, 1, true)
      const told = beside(ill).findings.filter(({ kind }) => kind === 'cell-self-discharge')
      expect(told.map(({ subject, severity }) => [subject.index, severity])).toEqual([
        [ill.cell, 'attention'],
      ])
      expect(told[0]!.question).toMatch(/since an earlier stored drive/)
      const healthy = beside(twoDrives(model, 3, false))
      expect(healthy.findings.filter(({ kind }) => kind === 'cell-self-discharge')).toEqual([])
      expect(healthy.questions.at(-1)!.question).toMatch(/since an earlier stored drive/)
    },
  )
})

/**
 * Forty cells whose offsets are charge, ten days apart, by Coulomb's law: 0.05 A out of 60 A·h is 2 % a day; at 8 mV a
 * percent that is 16 mV a day. The later rest lies where the curve is 1.4 times as steep.
 */
function packs(drain: number, at: number, slope = 1.4, days = 10): [Review, Review] {
  const random = new Random(9)
  const then = Array.from({ length: 40 }, () => 2 * random.normal())
  const now = then.map(
    (mv, cell) => slope * mv + 0.2 * random.normal() - (cell + 1 === at ? drain * days : 0),
  )
  const review = (offsets: readonly number[], day: number, medianV: number): Review =>
    ({
      drive: { started_at: new Date(Date.UTC(2031, 0, 1 + day)).toISOString() },
      cell_rest: { from: 'before', span_s: [0, 10], median_v: medianV },
      cells: offsets.map((mv, i) => ({
        index: i + 1,
        rest_offset_mv: mv,
        rest_offset_mv_plus_minus: 0.4,
        class: 'like-its-peers',
      })),
    }) as unknown as Review
  return [review(then, 0, 3.69), review(now, days, 3.87)]
}

describe('rests of two drives, by Coulomb', () => {
  const nmc = { pack: { chemistry: 'nmc' } }
  it('gives the rate of the cell that drains, whatever the curve makes of the other offsets', () => {
    const { cells, days } = restDrains(...packs(16, 12), nmc)!
    expect(days).toBeCloseTo(10)
    const worst = [...cells].sort((a, b) => b.mvDay - a.mvDay)[0]!
    expect(worst.cell).toBe(12)
    expect(Math.abs(worst.mvDay - 16)).toBeLessThan(Math.max(0.2, 1.96 * worst.error))
    for (const each of cells.filter(({ cell }) => cell !== 12))
      expect(Math.abs(each.mvDay)).toBeLessThan(6 * each.error)
  })

  it('says nothing of rests an hour apart, of other packs, or of a review that kept no rest', () => {
    expect(restDrains(...packs(16, 12, 1, 1 / 24), nmc)).toBeNull()
    const [before, after] = packs(16, 12)
    expect(restDrains({ ...before, cell_rest: null }, after, nmc)).toBeNull()
    expect(restDrains({ ...before, cells: before.cells.slice(0, 3) }, after, nmc)).toBeNull()
    expect(restDrains(after, before, nmc)).toBeNull()
  })
})

describe('a signal that this car does not have', () => {
  const lamp = {
    question: 'Does the reverse lamp follow the selector?',
    state: 'not-assessed',
    missing: ['reverse_lamp'],
    why: 'not in the log: reverse_lamp',
    to_assess: 'Log reverse_lamp.',
  } as unknown as Review['questions'][number]
  const earlier = (ids: string[]) =>
    [{ questions: [lamp], channels: ids.map((id) => ({ id })) }] as unknown as Review[]

  it('is asked for once: not where an earlier drive asked in vain, again where the car was seen to have it', () => {
    expect(askedOnce([lamp], [])).toEqual([lamp])
    const [again] = askedOnce([lamp], earlier(['speed']))
    expect(again).toMatchObject({ state: 'not-assessed', to_assess: null })
    expect(again!.why).toMatch(/nor in this car’s earlier drives$/)
    expect(askedOnce([lamp], earlier(['reverse_lamp']))).toEqual([lamp])
  })
})
