import { afterEach, expect } from 'vitest'
import { readEveryReview } from '../../src/review/finish.ts'
import { wrongSentences } from './review-sentences.ts'

/**
 * Reads every sentence of every review that any test makes (issue 12): a broken one, or a word of the laboratory, fails the
 * test that made it. A setup file of Vitest; what runs in a process of its own is not read.
 */
const wrong = new Set<string>()
readEveryReview((review) => {
  for (const each of wrongSentences(review)) wrong.add(each)
})

afterEach(() => {
  const found = [...wrong]
  wrong.clear()
  expect(found, 'sentences of the reviews made since the test before').toEqual([])
})
