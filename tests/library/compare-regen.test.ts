import { describe, expect, it } from 'vitest'
import { compareRegen } from '../../src/library/compare-regen.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { brakeDrive } from '../helpers/brake-drive.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

describe('two drives before and after a change of map', () => {
  const before = reviewDrive(brakeDrive({ startBar: 8 }), {})
  const after = reviewDrive(brakeDrive({ startBar: 3 }), {})
  const found = compareRegen(before, after)!

  it('says what changed beyond both intervals, and what did not', () => {
    const of = (what: string) => found.changes.find((each) => each.what === what)
    expect(of('start pressure')?.difference).toBeCloseTo(-5, 0)
    expect(of('start pressure')?.changed).toBe(true)
    expect(of('most slowing torque')?.changed).toBe(false)
    expect(of('fade, to')?.changed).toBe(false)
  })

  it('compares stops at the same pressure: light presses regenerate more now', () => {
    const light = found.samePressure.find((each) => each.bar < 16)!
    expect(light.after.regenNm).toBeGreaterThan(light.before.regenNm + 5)
    const firm = found.samePressure.find((each) => each.bar > 28)!
    expect(Math.abs(firm.after.regenNm - firm.before.regenNm)).toBeLessThan(2)
  })

  it('is nothing without regeneration in both', () => {
    expect(compareRegen(before, reviewDrive(driveFromColumns([0, 1], { speed: [0, 0] }), {}))).toBeNull()
  })
})
