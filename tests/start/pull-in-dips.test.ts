import { describe, expect, it } from 'vitest'
import { gatherFacts } from '../../src/review/run-all.ts'
import { pullInDips } from '../../src/start/questions/pull-in-dips.ts'
import { drawnStart } from '../helpers/drawn-start.ts'

const dip = (t: number): number => (t >= 2.2 && t < 2.3 ? 8.4 : 12.5)

describe('12 V dips at pull-in', () => {
  it('says the lowest reading where nothing dips', () => {
    const answer = pullInDips(gatherFacts(drawnStart(), {}))
    expect(answer.findings).toEqual([])
    expect(answer.questions[0]).toMatchObject({
      state: 'nothing-found',
      why: expect.stringContaining('12.60 V'),
    })
  })

  it('a dip that nothing follows is a note; one after which the contactor opens again is not', () => {
    const calm = pullInDips(gatherFacts(drawnStart({ columns: { lv_voltage: dip } }), {}))
    expect(calm.findings).toMatchObject([{ kind: 'lv-dip-at-pull-in', severity: 'note', value: 8.4 }])
    const drops = { lv_voltage: dip, contactor_positive: (t: number) => (t >= 2.2 && t < 2.6 ? 1 : 0) }
    const fell = pullInDips(gatherFacts(drawnStart({ columns: drops }), {}))
    expect(fell.findings).toMatchObject([
      { severity: 'attention', reason: expect.stringContaining('opened again') },
    ])
  })

  it('is not assessed without a 12 V reading', () => {
    expect(
      pullInDips(gatherFacts(drawnStart({ without: ['lv_voltage'] }), {})).questions[0]!.missing,
    ).toEqual(['lv_voltage'])
  })
})
