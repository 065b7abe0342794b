import { describe, expect, it } from 'vitest'
import { pull } from '../../src/pedal/models/pull.ts'
import { torqueReleased } from '../../src/pedal/questions/torque-released.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { CAR, type Moment, releasedDrive } from '../helpers/released-drive.ts'

/** Presses for 6 s, lifts for 5 s; gentle: at most 55 N·m. Creep where `creepNm`, falling with speed to 9 km/h. */
const foot = (s: number): number => (s > 3 && s % 11 < 6 ? 30 : 0)
const drive = (creepNm: number, topNm = 55, slope?: (s: number) => number) =>
  releasedDrive({
    seconds: 160,
    pedal: foot,
    torque: ({ s, kmh }: Moment) =>
      foot(s) > 0 ? topNm * Math.min(1, 0.4 + 0.1 * (s % 11)) : kmh < 9 ? creepNm * (1 - kmh / 9) : -25,
    brake: (s) => (foot(s) === 0 && s % 11 > 6.5 && s % 11 < 10 ? 12 : 0),
    ...(slope ? { slope } : {}),
  })

describe('what a newton metre does to the car', () => {
  // Newton: dv/dt per N·m = ratio / (radius · mass)
  const truth = CAR.ratio / (CAR.radiusM * CAR.massKg)

  it('is read from its own pulls', () => {
    const found = gatherFacts(drive(0), {}).once(pull)
    expect(found!.perNm / truth).toBeCloseTo(1, 1)
    expect(found!.plusMinus).toBeLessThan(0.15 * truth)
  })

  it('is absent with hardly any driving', () => {
    const still = releasedDrive({ seconds: 60, pedal: () => 0, torque: () => 0 })
    expect(gatherFacts(still, {}).once(pull)).toBeNull()
  })

  it('a creep under 0.6 m/s² is no stop in a drive of little torque; one over it is', () => {
    const said = (nm: number): string[] =>
      torqueReleased(gatherFacts(drive(nm), {})).findings.map(({ severity }) => severity)
    const limit = 0.6 / truth
    expect(said(0.8 * limit)).not.toContain('stop')
    expect(said(1.9 * limit)).toContain('stop')
  })
})
