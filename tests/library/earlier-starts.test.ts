import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { type Review, reviewSchema } from '../../shared/review.ts'
import { earlierStarts, stepTimes, withEarlierStarts } from '../../src/library/earlier-starts.ts'
import { otherDrivesOf } from '../../src/library/library.ts'
import { openPlace } from '../../src/library/place.ts'
import { storeDrive } from '../../src/library/store-drive.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { drawnStart } from '../helpers/drawn-start.ts'

const dir = mkdtempSync(join(tmpdir(), 'aftermile-earlier-'))
afterAll(() => rmSync(dir, { recursive: true, force: true }))
const log = join(dir, 'a.csv')
writeFileSync(log, 'time,current\n0,1\n')
const JUNIPER = { name: 'Juniper' }

/** A start whose positive contactor closes at `closesS`: precharge begins at 1.4 s. */
function drawn(
  closesS: number | null,
  sha256: string,
): { drive: ReturnType<typeof drawnStart>; review: Review } {
  const made = drawnStart({ closesS })
  const clock = { offset_s: 0, drift_ppm: 0, plus_minus_s: 0, found_from: 'one log', steps: [] }
  const drive = {
    ...made,
    files: [{ name: 'a.csv', sha256, layout: 'wide CSV', rows: 1501, skipped: [], clock }],
  }
  return { drive, review: reviewDrive(drive, JUNIPER) }
}
/** Keeps starts of 2.18, 2.2 and 2.22 s, one that failed, and one of another car. */
function stored() {
  const place = openPlace(mkdtempSync(join(dir, 'place-')))
  const keep = (closesS: number | null, sha256: string, name: string): void =>
    void storeDrive(place, {
      ...drawn(closesS, sha256),
      logs: [{ path: log, name: 'a.csv' }],
      vehicle: { name },
    })
  for (const [at, closesS] of [2.18, 2.2, 2.22].entries()) keep(closesS, `juniper ${at}`, 'Juniper')
  keep(null, 'juniper that failed', 'Juniper')
  keep(3.9, 'another car', 'Teasel')
  return place
}
const place = stored()
const beside = (closesS: number | null, sha256 = 'new'): Review => {
  const { review } = drawn(closesS, sha256)
  return withEarlierStarts(review, earlierStarts(place, otherDrivesOf(place, 'Juniper', review, undefined)))
}
const asked = (review: Review) => review.questions.find(({ question }) => question.includes('earlier drives'))

describe('a start beside the earlier ones of its car', () => {
  it('times what the car does by itself from step to step', () => {
    const times = stepTimes(drawn(2.2, 'x').review.starts[0]!)
    expect(times.get('negative')).toBeCloseTo(0.3, 1)
    expect([...times.values()].reduce((sum, each) => sum + each, 0)).toBeCloseTo(1.6, 1)
    expect([...times.keys()]).not.toContain('brake')
  })

  it('gives median and range by the step, as figures without accusation', () => {
    const review = beside(2.24)
    const steps = review.starts[0]!.steps.filter((step) => step.earlier)
    expect(steps.map(({ name }) => name)).toContain('precharge')
    for (const { earlier } of steps) {
      expect(earlier!.starts).toBe(3)
      expect(earlier!.low_s).toBeLessThanOrEqual(earlier!.median_s)
      expect(earlier!.median_s).toBeLessThanOrEqual(earlier!.high_s)
    }
    expect(asked(review)).toMatchObject({ area: 'start', state: 'nothing-found' })
    expect(asked(review)!.why).toMatch(
      /precharge took 0\.\d+ s, in 3 earlier starts 0\.\d+ s \(0\.\d+ to 0\.\d+ s\)/,
    )
    expect(review.findings.filter(({ kind }) => kind === 'start-step-time')).toEqual([])
    expect(reviewSchema.parse(review)).toEqual(review)
  })

  it('far outside is a finding that needs attention, never a stop', () => {
    const review = beside(4.1)
    expect(asked(review)!.state).toBe('found')
    const found = review.findings.filter(({ kind }) => kind === 'start-step-time')
    expect(found).toMatchObject([{ severity: 'attention', unit: 's', subject: { type: 'start-step' } }])
    expect(found[0]!.value).toBeGreaterThan(2)
    expect(found[0]!.reason).toContain('3 earlier starts')
  })

  it('one earlier start is told, and accuses nobody', () => {
    const { review } = drawn(4.1, 'new')
    const one = withEarlierStarts(
      review,
      earlierStarts(place, otherDrivesOf(place, 'Juniper', review, undefined)).slice(0, 1),
    )
    expect(asked(one)!.why).toContain('in one earlier start')
    expect(one.findings).toEqual(review.findings)
  })

  it('the same logs again, another car, no car, and a first drive have nothing to stand beside', () => {
    const { review } = drawn(2.2, 'juniper 1')
    expect(earlierStarts(place, otherDrivesOf(place, 'Juniper', review, undefined))).toHaveLength(2)
    expect(earlierStarts(place, otherDrivesOf(place, 'Sorrel', review, undefined))).toEqual([])
    expect(earlierStarts(place, otherDrivesOf(place, undefined, review, undefined))).toEqual([])
    expect(withEarlierStarts(review, [])).toBe(review)
  })
})
