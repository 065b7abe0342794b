import { expect, it } from 'vitest'
import { reviewSchema } from '../../shared/review.ts'
import { openReview } from '../../src/library/stored-review.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { smallDrive } from '../helpers/small-drive.ts'

const review = reviewDrive(smallDrive(), {})

it('a review stored with schema 1 opens: ids, verdict and charges are filled, nothing is made up', () => {
  const { verdict: _, charges: __, ...rest } = review
  const findings = [
    {
      ...{ kind: 'joint-resistance-high', severity: 'stop', subject: { type: 'joint', index: 4 } },
      ...{ span_s: [0, 60], onset_s: 0, value: 1.4, unit: 'mΩ', low: 1.3, high: 1.5, plus_minus: 0.1 },
      ...{ bound: 'exact', limit: 1, limit_source: null, headline: 'Joint 4 adds 1.4 mΩ.', reason: '' },
      ...{ next_step: '', cautions: [], rivals: [], evidence: { channels: [], span_s: [0, 60] } },
    },
  ]
  const opened = openReview({ ...rest, schema: 1, findings })
  expect(reviewSchema.parse(opened)).toEqual(opened)
  expect(opened.findings[0]).toMatchObject({ id: 'joint-resistance-high/joint-4', question: null, also: [] })
  expect(opened.verdict.state).toBe('stop')
  expect(opened.verdict.sentence).toContain('Joint 4 adds 1.4 mΩ')
  expect(opened.verdict.before_touching.join()).toMatch(/not proved down/)
  expect(opened.charges).toEqual([])
})

it('a review of today opens as it is, anything else is refused', () => {
  expect(openReview(JSON.parse(JSON.stringify(review)))).toEqual(review)
  expect(() => openReview({ schema: 3 })).toThrow()
  expect(() => openReview(null)).toThrow()
})
