import type { Question, Review } from '../../shared/review.ts'

/**
 * The questions, those asked before in vain without their wish: a signal that this car does not have, by its stored drives,
 * is asked for once. Where an earlier drive asked for the same signals and none of them was logged in any, that is said.
 */
export function askedOnce(
  questions: readonly Question[],
  earlier: readonly Pick<Review, 'questions' | 'channels'>[],
): Question[] {
  return questions.map((each) => {
    if (each.state !== 'not-assessed' || each.to_assess === null || each.missing.length === 0) return each
    const asked = earlier.some(({ questions: before }) =>
      before.some((other) => other.question === each.question && other.state === 'not-assessed'),
    )
    const logged = earlier.some(({ channels }) =>
      channels.some(({ id }) => each.missing.some((wanted) => id === wanted || id.startsWith(`${wanted}.`))),
    )
    return asked && !logged
      ? {
          ...each,
          why: `${each.why.replace(/\.$/, '')}, nor in this car\u2019s earlier drives`,
          to_assess: null,
        }
      : each
  })
}
