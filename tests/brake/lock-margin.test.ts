import { describe, expect, it } from 'vitest'
import type { Vehicle } from '../../shared/vehicle.ts'
import { axleOf, needOfGrip } from '../../src/brake/models/axle-lock.ts'
import { regenLock } from '../../src/brake/questions/regen-lock.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { brakeDrive } from '../helpers/brake-drive.ts'

const CAR = {
  mass_kg: 1000,
  wheel_radius_m: 0.3,
  gear_ratio: 9,
  driven_axle: 'rear',
  wheelbase_m: 2.4,
  front_mass_share: 0.5,
  centre_of_gravity_m: 0.5,
}
const drive = brakeDrive()
const ask = (vehicle: Vehicle) => regenLock(gatherFacts(drive, vehicle))

describe('grip that regeneration alone needs', () => {
  it('by hand, moments about the front contact: 60 N·m · 9 / 0.3 m = 1800 N on 4903 − 1800 · 0.5 / 2.4 N', () => {
    const need = 1800 / (4903.325 - (1800 * 0.5) / 2.4)
    expect(needOfGrip(axleOf({ car: CAR }, null).axles[0]!, 60)).toBeCloseTo(need, 9)
    const [found] = ask({ car: CAR }).findings
    expect(found?.kind).toBe('regen-lock-margin')
    expect(found?.severity).toBe('attention')
    expect(found?.subject).toEqual({ type: 'axle', name: 'rear' })
    expect(found!.value).toBeCloseTo(need, 2)
  })

  it('without the height the worse end is used and named: 0.65 m for a rear axle', () => {
    const { centre_of_gravity_m: _, ...car } = CAR
    const [found] = ask({ car }).findings
    expect(found!.value).toBeCloseTo(1800 / (4903.325 - (1800 * 0.65) / 2.4), 2)
    expect(found!.reason).toContain('0.65 m (assumed)')
  })

  it('a front axle has no limit: the figure stands in the answer; what is missing is asked for', () => {
    const front = ask({ car: { ...CAR, driven_axle: 'front' } })
    expect(front.findings).toEqual([])
    expect(front.questions[0]?.state).toBe('nothing-found')
    const bare = ask({})
    expect(bare.questions[0]?.state).toBe('not-assessed')
    expect(bare.questions[0]?.to_assess).toContain('four scales')
  })
})
