import { describe, expect, it } from 'vitest'
import { slipControl } from '../../src/brake/models/wheel-slip.ts'
import { wheelSlipAnalysis } from '../../src/brake/questions/wheel-slip.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

/** Twelve pulls and brakes at 20 Hz; the driven axle leads by `slip` (share) from 31 to 31.8 s while pulling. */
const drive = (slip: number, more: Record<string, (s: number) => number> = {}) => {
  const timeS = Float64Array.from({ length: 2400 }, (_, i) => i / 20)
  const kmh = (s: number): number => 40 + 25 * Math.sin((2 * Math.PI * s) / 10)
  const pulling = (s: number): boolean => Math.cos((2 * Math.PI * s) / 10) > 0
  const columns: Record<string, Float64Array> = {
    motor_speed: timeS.map((s) => 80 * kmh(s) * (s >= 31 && s < 31.8 ? 1 + slip : 1)),
    speed: timeS.map((s) => kmh(s) + 0.05 * Math.sin(17 * s)),
    torque: timeS.map((s) => (pulling(s) ? 60 : -30)),
  }
  for (const [id, of] of Object.entries(more)) columns[id] = timeS.map(of)
  return driveFromColumns(timeS, columns)
}
const ask = (slip: number) =>
  wheelSlipAnalysis(gatherFacts(drive(slip), { car: { speed_from: 'wheel', driven_axle: 'rear' } }))

describe('a driven wheel that slips', () => {
  it('18 % for 0.8 s is found, 6 % is not', () => {
    const [found] = ask(0.18).findings
    expect(found?.kind).toBe('wheel-slip')
    expect(found?.value).toBeCloseTo(18, 0)
    expect(found?.subject.name).toBe('rear')
    expect(ask(0.06).findings).toEqual([])
    expect(ask(0).questions[0]?.state).toBe('nothing-found')
  })

  it('a speed of unknown origin proves nothing', () => {
    expect(wheelSlipAnalysis(gatherFacts(drive(0.3), {})).questions[0]?.state).toBe('not-assessed')
  })

  it('slip control at work is seen, and its absence from the log is not taken for rest', () => {
    expect(
      slipControl(gatherFacts(drive(0, { traction_active: (s) => (s > 50 && s < 51 ? 1 : 0) }), {})),
    ).toBe(true)
    expect(slipControl(gatherFacts(drive(0, { abs_active: () => 0 }), {}))).toBe(false)
    expect(slipControl(gatherFacts(drive(0), {}))).toBeNull()
  })
})
