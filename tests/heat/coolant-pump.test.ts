import { describe, expect, it } from 'vitest'
import { coolantPump } from '../../src/heat/questions/coolant-pump.ts'
import { coolingOrder } from '../../src/heat/questions/cooling-order.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'
import { judge } from '../studies/rest/family.ts'
import { pump } from '../studies/rest/pump.ts'

const timeS = Array.from({ length: 1200 }, (_, i) => i / 2)
const drawn = (columns: Record<string, (t: number) => number>, order?: number[]) =>
  gatherFacts(
    driveFromColumns(
      timeS,
      Object.fromEntries(Object.entries(columns).map(([id, at]) => [id, timeS.map(at)])),
    ),
    order ? { pack: { cooling_order: [order] } } : {},
  )

describe('the coolant pump', () => {
  it('one that is told to run and moves nothing is told with its time', () => {
    const flow = (t: number): number => (t > 5 && t < 300 ? 8 : 0)
    const { findings } = coolantPump(drawn({ coolant_pump: () => 1, coolant_flow: flow }))
    expect(findings).toMatchObject([
      { kind: 'pump-without-flow', severity: 'attention', subject: { type: 'coolant' } },
    ])
    expect(findings[0]!.value).toBeCloseTo(300, -1)
  })

  it('a duty turned down, and one written the other way round, accuse nobody', () => {
    const duty = (t: number): number => (t % 200 < 100 ? 90 : 10)
    const flow = (t: number): number => (t % 200 < 100 ? 9 : 0)
    expect(coolantPump(drawn({ pump_duty: duty, coolant_flow: flow })).questions[0]!.state).toBe(
      'nothing-found',
    )
    const turned = coolantPump(drawn({ pump_duty: (t) => 100 - duty(t), coolant_flow: flow }))
    expect(turned).toMatchObject({ findings: [], questions: [{ state: 'not-assessed' }] })
  })

  it('is not assessed without flow or command', () => {
    expect(coolantPump(drawn({ speed: () => 0 })).questions[0]!.missing).toEqual([
      'coolant_flow',
      'pump_duty',
      'coolant_pump',
    ])
  })

  it.each(['first', 'second'] as const)('ill on the %s simulator’s car', (model) => {
    expect(judge(pump, pump.draw(model, 2, true), true)).toMatchObject({ false: [], broke: [] })
  })
})

describe('the order along the loop', () => {
  const modules = Object.fromEntries(
    [1, 2, 3, 4, 5, 6].map((m) => [`module_temperature.${m}`, (t: number) => 20 + (t / 600) * (8 + 0.6 * m)]),
  )
  it('is held against cooling_order: with it nothing, the other way a note', () => {
    expect(coolingOrder(drawn(modules, [1, 2, 3, 4, 5, 6])).findings).toEqual([])
    expect(coolingOrder(drawn(modules, [6, 5, 4, 3, 2, 1])).findings).toMatchObject([
      { kind: 'vehicle-file-disagrees', severity: 'note' },
    ])
  })

  it('is not assessed without it', () => {
    expect(coolingOrder(drawn(modules)).questions[0]!.state).toBe('not-assessed')
  })
})
