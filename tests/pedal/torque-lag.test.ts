import { describe, expect, it } from 'vitest'
import { torqueLag } from '../../src/pedal/questions/torque-lag.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { brakeDrive, without } from '../helpers/brake-drive.ts'

const ask = (lagS: number, gone: readonly string[] = []) =>
  torqueLag(gatherFacts(without(brakeDrive({ lagS }), gone), {}))

describe('torque behind what was asked', () => {
  it('50 ms is healthy and measured; 0.9 s is accused', () => {
    expect(ask(0.05).findings).toEqual([])
    expect(ask(0.05).questions[0]?.why).toMatch(/after 0\.0[2-8] ±/)
    const [late] = ask(0.9).findings
    expect(late?.kind).toBe('torque-lag')
    expect(late?.value).toBeGreaterThan(0.5)
  })

  it('without a torque request the accelerator stands in; without torque nothing is said', () => {
    expect(ask(0.05, ['torque_request']).questions[0]?.why).toContain('accelerator')
    expect(ask(0.05, ['torque']).questions[0]?.state).toBe('not-assessed')
  })
})
