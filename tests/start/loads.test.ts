import { describe, expect, it } from 'vitest'
import { gatherFacts } from '../../src/review/run-all.ts'
import { loads } from '../../src/start/questions/loads.ts'
import { drawnStart } from '../helpers/drawn-start.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'
import { judge } from '../studies/rest/family.ts'
import { heater } from '../studies/rest/heater.ts'

const timeS = Array.from({ length: 1200 }, (_, i) => i / 10)
const asked = (t: number): number => (t >= 10 && t < 40 ? 1 : 0)
const drawn = (columns: Record<string, (t: number) => number>) =>
  loads(
    gatherFacts(
      driveFromColumns(
        timeS,
        Object.fromEntries(Object.entries(columns).map(([id, at]) => [id, timeS.map(at)])),
      ),
      {},
    ),
  )

describe('heater and cooler', () => {
  it('one that goes on after its request fell is told with what it drew beyond it', () => {
    const { findings } = drawn({
      heater_power: (t) => (t >= 10 && t < 90 ? 2000 : 0),
      heater_request: asked,
    })
    expect(findings).toMatchObject([
      {
        kind: 'load-stays-on',
        severity: 'attention',
        subject: { type: 'load', name: 'cabin heater' },
        value: 2000,
      },
    ])
    expect(findings[0]!.span_s[0]).toBeCloseTo(40, 1)
  })

  it('a request logged the other way round, a run-down and a reading’s offset accuse nobody', () => {
    const course = (t: number): number => (t >= 10 ? 2000 * Math.min(1, Math.max(0, (48 - t) / 8)) : 0) + 60
    expect(drawn({ heater_power: course, heater_request: asked }).findings).toEqual([])
    expect(drawn({ heater_power: course, heater_request: (t) => 1 - asked(t) }).findings).toEqual([])
  })

  it('after the key, where no request is logged', () => {
    const { findings } = drawn({
      cooler_power: (t) => (t >= 10 && t < 115 ? 900 : 0),
      key_on: (t) => (t >= 5 && t < 40 ? 1 : 0),
    })
    expect(findings).toMatchObject([{ subject: { name: 'cabin cooler' }, value: 900 }])
  })

  it('a heater on a link that is still being filled is told', () => {
    const columns = { heater_power: (t: number) => (t >= 1.42 && t < 4 ? 400 : 0) }
    const { findings } = loads(gatherFacts(drawnStart({ columns }), {}))
    expect(findings).toMatchObject([
      { kind: 'load-stays-on', headline: expect.stringContaining('precharge') },
    ])
  })

  it('is not assessed without heater and cooler, or without anything to judge them against', () => {
    expect(drawn({ speed: () => 0 }).questions[0]!.missing).toEqual(['heater_power', 'cooler_power'])
    expect(drawn({ heater_power: () => 500 }).questions[0]!.missing).toEqual([
      'heater_request',
      'cooler_request',
    ])
  })

  it.each(['first', 'second'] as const)('ill and healthy on the %s simulator’s car', (model) => {
    const ill = judge(heater, heater.draw(model, 3, true), true)
    expect(ill).toMatchObject({ found: true, covered: true, false: [], broke: [] })
    expect(Math.abs(ill.error!)).toBeLessThan(0.15)
  })
})
