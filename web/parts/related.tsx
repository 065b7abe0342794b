import type { DriveAnswer } from '../../shared/api.ts'
import type { Area } from '../../shared/review.ts'
import { figureText, sentence, smallestText } from '../../shared/wording.ts'
import { hrefOf } from '../route.ts'
import { SeverityMark } from './severity-mark.tsx'

/** The findings and questions of one area, short, with the way to the whole finding. */
export function Related({
  drive,
  kinds,
  areas,
}: {
  drive: DriveAnswer
  kinds: RegExp
  areas: readonly Area[]
}) {
  const { findings, questions } = drive.review
  const own = findings
    .map((finding, at) => ({ finding, at }))
    .filter(({ finding }) => kinds.test(finding.kind))
  const asked = questions.filter((question) => areas.includes(question.area) && question.state !== 'found')
  if (own.length === 0 && asked.length === 0) return null
  return (
    <section class="related" aria-label="What was found here">
      <ul>
        {own.map(({ finding, at }) => (
          <li key={at}>
            <a href={hrefOf({ page: 'drive', id: drive.summary.id, view: 'findings', item: String(at) })}>
              <SeverityMark kind={finding.severity} /> <span>{finding.headline}</span>{' '}
              <span class="tabular soft">{finding.value === null ? '' : figureText(finding)}</span>
            </a>
          </li>
        ))}
      </ul>
      {asked.length === 0 ? null : (
        <details open={own.length === 0}>
          <summary>Asked here, and not found or not assessed ({asked.length})</summary>
          <ul class="asked">
            {asked.map((question) => (
              <li key={question.question}>
                <SeverityMark kind={question.state === 'not-assessed' ? 'not-assessed' : 'nothing-found'} />
                <div>
                  <strong>{question.question}</strong>
                  <p>
                    {(question.state === 'nothing-found' ? smallestText(question) : null) ??
                      sentence(question.why)}
                  </p>
                  {question.to_assess ? <p>To assess it: {sentence(question.to_assess)}</p> : null}
                </div>
              </li>
            ))}
          </ul>
        </details>
      )}
    </section>
  )
}

/** Why a view has nothing to draw, in the words of the questions that could not be answered. */
export function NotHere({
  drive,
  areas,
  what,
}: {
  drive: DriveAnswer
  areas: readonly Area[]
  what: string
}) {
  const why = drive.review.questions.find((q) => areas.includes(q.area) && q.state === 'not-assessed')
  return (
    <p class="panel">
      {what} {why ? `${sentence(why.why)} ${sentence(why.to_assess ?? '')}` : ''}
    </p>
  )
}
