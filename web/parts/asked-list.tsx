import type { Question } from '../../shared/review.ts'
import { sentence, smallestFigure } from '../../shared/wording.ts'
import { Shape } from './severity-mark.tsx'

/**
 * Questions a line each: what was asked, and beside it the smallest fault that would have shown; below it why it was
 * not assessed and what to log or drive. `whys` also says how those were judged that found nothing.
 */
export function AskedList({ questions, whys }: { questions: readonly Question[]; whys: boolean }) {
  return (
    <ul class="asked">
      {questions.map((question) => {
        const open = question.state === 'not-assessed'
        const shows = open ? null : smallestFigure(question)
        return (
          <li key={question.question}>
            <Shape kind={open ? 'not-assessed' : 'nothing-found'} />
            <div>
              <p class="asked-line">
                <strong>
                  {open ? <span class="unseen">Not assessed: </span> : null}
                  {question.question}
                </strong>
                {shows === null ? null : (
                  <span class="asked-figure tabular">
                    <span class="unseen">shows from </span>
                    {shows}
                  </span>
                )}
              </p>
              {open || whys || shows === null ? <p>{sentence(question.why)}</p> : null}
              {question.to_assess ? (
                <p>
                  <b>To assess it:</b> {sentence(question.to_assess)}
                </p>
              ) : null}
            </div>
          </li>
        )
      })}
    </ul>
  )
}
