import { describe, expect, it } from 'vitest'
import { mapOutcome } from '../../src/library/map-outcome.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { brakeDrive } from '../helpers/brake-drive.ts'

// The helper's car: 60 N·m from 3 to 25 bar, 6 N·m on lift-off that the brake adds to.
const of = (id: string, changes: Parameters<typeof brakeDrive>[0]) => ({
  id,
  title: id,
  review: reviewDrive(brakeDrive({ liftNm: 6, ...changes }), {}),
})
const before = of('before', {})
const tried = {
  map: { start_bar: 2, full_bar: 20, max_nm: 50, fade_kmh: [5, 12] as [number, number] },
  at: '2026-11-27T10:00:00Z',
  by: 'R. Hale',
}
const asked = { startBar: 2, fullBar: 20, maxNm: 44 }

describe('a map that was set, against the next drive', () => {
  it('set as asked: every breakpoint says so, with the torque that a ramp by hand gives', () => {
    const { points, sentence } = mapOutcome(tried, before, of('after', asked))
    expect(points.map((each) => each.verdict)).toEqual(points.map(() => 'as-asked'))
    // by hand: 6 + 44 · (11 − 2) / (20 − 2) = 28 N·m
    const middle = points.find((each) => each.bar === 11)!
    expect(middle.asked_nm).toBeCloseTo(28, 6)
    expect(Math.abs(middle.measured_nm! - 28)).toBeLessThanOrEqual(middle.measured_nm_plus_minus!)
    expect(sentence).toContain('As asked at')
  })

  it('a controller that gives more: stop and look', () => {
    const { points, sentence } = mapOutcome(tried, before, of('after', { ...asked, maxNm: 70 }))
    expect(points.at(-1)!.verdict).toBe('more')
    expect(sentence).toContain('stop and look')
  })

  it('a ceiling in the controller: less, and no limit is blamed', () => {
    const { points } = mapOutcome(tried, before, of('after', { ...asked, maxNm: 30 }))
    expect(points.at(-1)!.verdict).toBe('less')
    expect(points.at(-1)!.why).toContain('its own ceiling')
  })

  it('presses that the next drive did not reach are not judged; no drive yet is said', () => {
    const light = of('after', { ...asked, peaksBar: [6, 7, 8] })
    expect(mapOutcome(tried, before, light).points.at(-1)!.verdict).toBe('not-seen')
    const none = mapOutcome(tried, before, null)
    expect(none.points.every((each) => each.verdict === 'not-seen')).toBe(true)
    expect(none.sentence).toContain('No drive after it')
  })
})
