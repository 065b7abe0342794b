import type { Finding, Severity } from '../../shared/review.ts'
import {
  figureText,
  firstSentence,
  limitText,
  SEVERITY_WORDS,
  unseenAreas,
  whenText,
} from '../../shared/wording.ts'
import { Compare } from '../parts/compare.tsx'
import { SeverityMark, Shape } from '../parts/severity-mark.tsx'
import { useMedia } from '../parts/use-media.ts'
import { choose } from '../route.ts'
import { Asked } from './asked.tsx'
import type { ViewProps } from './drive-frame.tsx'
import { FindingDetail } from './finding-detail.tsx'

/** So many questions fit under the findings, beside the opened one. */
const FEW = 12

/** What was found, worst first; what was asked and not found; what was not assessed. */
export function Findings({ drive, item }: ViewProps) {
  const { findings, questions } = drive.review
  const wide = useMedia('(min-width: 1100px)') && findings.length > 0
  const asked = item !== '' && Number(item) in findings ? Number(item) : null
  const chosen = asked ?? (wide ? 0 : null)
  const finding = chosen === null ? undefined : findings[chosen]
  const nothing = questions.filter(({ state }) => state === 'nothing-found')
  const unassessed = questions.filter(({ state }) => state === 'not-assessed')
  const beside = wide && unassessed.length <= FEW
  const detail = finding ? <FindingDetail key={chosen} drive={drive} finding={finding} /> : null
  return (
    <>
      <div class={wide ? 'findings findings-wide' : 'findings'}>
        <div class="findings-list">
          <Verdict
            findings={findings}
            nothing={nothing.length}
            unassessed={unassessed.length}
            unseen={unseenAreas(questions)}
          />
          {(['stop', 'attention', 'note'] as const).map((severity) => (
            <Group
              key={severity}
              severity={severity}
              findings={findings}
              chosen={chosen}
              detail={wide ? null : detail}
              durationS={drive.summary.duration_s}
            />
          ))}
          {beside ? <Asked questions={questions} state="not-assessed" /> : null}
        </div>
        {wide ? (
          <section class="findings-detail" aria-label="The chosen finding">
            {detail}
          </section>
        ) : null}
      </div>
      <Asked questions={questions} state="nothing-found" />
      {beside ? null : <Asked questions={questions} state="not-assessed" />}
      <Compare drive={drive} />
    </>
  )
}

function Verdict({
  findings,
  nothing,
  unassessed,
  unseen,
}: {
  findings: readonly Finding[]
  nothing: number
  unassessed: number
  unseen: readonly string[]
}) {
  const count = (severity: Severity) => findings.filter((each) => each.severity === severity).length
  const stops = count('stop')
  const attention = count('attention')
  const words =
    stops > 0
      ? `${stops} ${stops === 1 ? 'finding speaks' : 'findings speak'} against handing the car over.`
      : attention > 0
        ? `${attention} ${attention === 1 ? 'finding needs' : 'findings need'} attention; none says stop.`
        : unseen.length > 0
          ? 'Too little was assessed to conclude.'
          : 'Nothing above a note was found among what was assessed.'
  return (
    <div class="verdict">
      <h1>{words}</h1>
      {unseen.length === 0 ? null : (
        <p class="unseen-areas">
          {stops + attention > 0 ? 'Too little was assessed to conclude: nothing' : 'Nothing'} of{' '}
          {listed(unseen)} could be seen in these logs. What to log stands under “Not assessed”.
        </p>
      )}
      <p class="verdict-links">
        <Jump
          to="nothing-found"
          words={`${nothing} ${nothing === 1 ? 'question' : 'questions'} asked, and nothing found`}
        />
        <Jump to="not-assessed" words={`${unassessed} not assessed`} />
      </p>
    </div>
  )
}

const listed = (words: readonly string[]) =>
  words.length < 2 ? words.join('') : `${words.slice(0, -1).join(', ')} and ${words.at(-1)}`

/** The address holds the route, so the link moves the focus itself. */
function Jump({ to, words }: { to: 'nothing-found' | 'not-assessed'; words: string }) {
  return (
    <button
      type="button"
      class="quiet"
      onClick={() => {
        const group = document.getElementById(`group-${to}`)
        group?.scrollIntoView()
        group?.focus({ preventScroll: true })
      }}
    >
      <Shape kind={to} /> {words}
    </button>
  )
}

function Group({
  severity,
  findings,
  chosen,
  detail,
  durationS,
}: {
  severity: Severity
  findings: readonly Finding[]
  chosen: number | null
  detail: preact.JSX.Element | null
  durationS: number
}) {
  const own = findings
    .map((finding, at) => ({ finding, at }))
    .filter((each) => each.finding.severity === severity)
  if (own.length === 0) return null
  return (
    <section aria-labelledby={`group-${severity}`}>
      <h2 id={`group-${severity}`}>
        {SEVERITY_WORDS[severity].heading} <span class="number">{own.length}</span>
      </h2>
      <ul class="cards">
        {own.map(({ finding, at }) => (
          <li key={at} class={`card card-${severity} ${at === chosen ? 'card-chosen' : ''}`}>
            <button
              type="button"
              aria-expanded={at === chosen}
              onClick={() => choose(at === chosen && detail ? '' : String(at))}
            >
              <SeverityMark kind={severity} />
              <span class="headline">{finding.headline}</span>
              <span class="figure">{factsOf(finding, durationS)}</span>
              {at === chosen && detail ? null : (
                <span class="card-next">
                  <b>Next:</b> {firstSentence(finding.next_step)}
                </span>
              )}
            </button>
            {at === chosen ? detail : null}
          </li>
        ))}
      </ul>
    </section>
  )
}

/** The figure where the headline has none with its interval; the limit; when. */
function factsOf(finding: Finding, durationS: number): string {
  const limit = limitText(finding)
  const facts = [
    finding.value === null || finding.headline.includes('±') ? null : figureText(finding),
    limit === null ? null : `limit ${limit}`,
    whenText(finding.span_s, durationS),
  ]
  return facts.filter((fact) => fact !== null).join(' · ')
}
