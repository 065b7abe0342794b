import { describe, expect, it } from 'vitest'
import { lampDuty } from '../../src/brake/models/stop-lamp.ts'
import { stopLampAnalysis } from '../../src/brake/questions/stop-lamp.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

describe('the regulation\u2019s thresholds (UN R13-H 5.2.22.4)', () => {
  it.each([
    [0.7, 'must-not'],
    [0.71, 'may'],
    [1.3, 'may'],
    [1.31, 'must'],
    [(50 - 45) / 3.6 / 1, 'must'], // 50 to 45 km/h in a second is 1.389 m/s²
    [0.9, 'may'],
    [0.69, 'must-not'],
  ] as const)('%d m/s²: %s', (ms2, duty) => {
    expect(lampDuty(ms2)).toBe(duty)
  })
})

describe('the lamp of a drive', () => {
  /** Six lifts of 4 s each from 80 km/h with a deceleration, brake never touched. */
  const lifts = (ms2: number, lit: 0 | 1) => {
    const timeS = Float64Array.from({ length: 3600 }, (_, i) => i / 50)
    const phase = (s: number): number => s % 12
    const lifting = (s: number): boolean => phase(s) >= 8
    return driveFromColumns(timeS, {
      speed: timeS.map((s) =>
        lifting(s) ? 80 - 3.6 * ms2 * (phase(s) - 8) : 80 - 3.6 * ms2 * 4 * (1 - phase(s) / 8),
      ),
      pedal_position: timeS.map((s) => (lifting(s) ? 0 : 40)),
      torque: timeS.map((s) => (lifting(s) && phase(s) > 8.1 ? -30 : 50)),
      brake_pressure: timeS.map(() => 0),
      brake_lamp: timeS.map((s) => (lifting(s) ? lit : 0)),
    })
  }
  const ask = (ms2: number, lit: 0 | 1) => stopLampAnalysis(gatherFacts(lifts(ms2, lit), {}))

  it('dark at 2.2 m/s² is accused, at 1.5 m/s² not: a slope of 5 % alone is 0.49 m/s²', () => {
    expect(ask(2.2, 0).findings.map((each) => each.kind)).toEqual(['lamp-disagrees'])
    expect(ask(1.5, 0).findings).toEqual([])
  })

  it('lit at 0.1 m/s² is accused, at 0.5 m/s² not', () => {
    expect(ask(0.1, 1).findings.map((each) => each.kind)).toEqual(['lamp-disagrees'])
    expect(ask(0.5, 1).findings).toEqual([])
  })
})
