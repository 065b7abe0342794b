import { afterEach, expect } from 'vitest'
import { readEveryReview } from '../../src/review/finish.ts'
import { regenDisagreements } from './regen-disagreements.ts'
import { wrongSentences } from './review-sentences.ts'

/**
 * Reads every sentence of every review that any test makes (issue 12): a broken one, or a word of the laboratory, fails the
 * test that made it; so does a figure of regeneration that two places of the review tell differently (issue 17). A setup file of Vitest; what runs in a process of its own is not read.
 */
const wrong = new Set<string>()
readEveryReview((review) => {
  for (const each of [...wrongSentences(review), ...regenDisagreements(review)]) wrong.add(each)
})

afterEach(() => {
  const found = [...wrong]
  wrong.clear()
  expect(found, 'sentences and figures of the reviews made since the test before').toEqual([])
})
