import type { DriveAnswer } from '../../shared/api.ts'
import { KINDS, type KindView } from '../../shared/kinds.ts'
import type { Area } from '../../shared/review.ts'
import { figureText, limitText, STATE_HEADINGS, sentence } from '../../shared/wording.ts'
import { hrefOf } from '../route.ts'
import { AskedList } from './asked-list.tsx'
import { FoldLine } from './fold-line.tsx'
import { SeverityMark } from './severity-mark.tsx'

/** The findings of one view, a line each, with the way to the whole finding: the first thing that the view says. */
export function FoundHere({
  drive,
  view,
  kinds,
}: {
  drive: DriveAnswer
  /** The view that looks at them, as the table of kinds says. */
  view?: KindView
  kinds?: RegExp
}) {
  const own = drive.review.findings
    .map((finding, at) => ({ finding, at }))
    .filter(({ finding: { kind } }) => (kinds ? kinds.test(kind) : KINDS[kind].view === view))
  if (own.length === 0) return null
  return (
    <ul class="related" aria-label="What was found here">
      {own.map(({ finding, at }) => {
        const limit = limitText(finding)
        const facts = [
          finding.value === null || finding.headline.includes('±') ? null : figureText(finding),
          limit === null ? null : `limit ${limit}`,
        ].filter((fact) => fact !== null)
        return (
          <li key={at}>
            <a href={hrefOf({ page: 'drive', id: drive.summary.id, view: 'findings', item: String(at) })}>
              <SeverityMark kind={finding.severity} /> <span>{finding.headline}</span>{' '}
              <span class="tabular soft">{facts.join(', ')}</span>
            </a>
          </li>
        )
      })}
    </ul>
  )
}

/** What else was asked about a view's part of the car. */
export function AskedHere({ drive, areas }: { drive: DriveAnswer; areas: readonly Area[] }) {
  const asked = drive.review.questions.filter(
    (question) => areas.includes(question.area) && question.state !== 'found',
  )
  if (asked.length === 0) return null
  const open = asked.filter(({ state }) => state === 'not-assessed')
  const clear = asked.filter(({ state }) => state === 'nothing-found')
  return (
    <div class="folds">
      {clear.length === 0 ? null : (
        <FoldLine
          id="here-nothing-found"
          name={STATE_HEADINGS['nothing-found']}
          words={`${clear.length} ${clear.length === 1 ? 'question' : 'questions'} of this part of the car.`}
        >
          {() => (
            <>
              <p class="soft">Beside each: the smallest fault that would have shown, 9 times in 10.</p>
              <div class="areas areas-two">
                <AskedList questions={clear} whys={false} />
              </div>
            </>
          )}
        </FoldLine>
      )}
      {open.length === 0 ? null : (
        <FoldLine
          id="here-not-assessed"
          name="Could not be told"
          words={open.map(({ question }) => question).join(' ')}
        >
          {() => (
            <div class="areas areas-two">
              <AskedList questions={open} whys={false} />
            </div>
          )}
        </FoldLine>
      )}
    </div>
  )
}

/** Why a view has nothing to draw, in the words of the question that could not be answered. */
export function NotHere({
  drive,
  areas,
  asks,
  what,
}: {
  drive: DriveAnswer
  areas: readonly Area[]
  /** Words of the question that stands for the view; the area's first one without. */
  asks?: RegExp
  what: string
}) {
  const open = drive.review.questions.filter((q) => areas.includes(q.area) && q.state === 'not-assessed')
  const why = open.find((q) => asks?.test(q.question)) ?? open[0]
  return (
    <p class="panel">
      {what} {why ? `${sentence(why.why)} ${sentence(why.to_assess ?? '')}` : ''}
    </p>
  )
}
