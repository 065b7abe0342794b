import type { Area, Question } from '../../shared/review.ts'
import { STATE_HEADINGS, sentence, smallestText } from '../../shared/wording.ts'
import { Shape } from '../parts/severity-mark.tsx'

const AREAS: Readonly<Record<Area, string>> = {
  log: 'The logs',
  start: 'Start and high voltage',
  pack: 'Pack',
  heat: 'Heat',
  pedal: 'Accelerator',
  brake: 'Brake and regeneration',
  isolation: 'Isolation',
  energy: 'Energy',
}

/** Questions of one state, by area: what was asked, and how small a fault would have shown, or why it was not assessed. */
export function Asked({
  questions,
  state,
}: {
  questions: readonly Question[]
  state: 'nothing-found' | 'not-assessed'
}) {
  const own = questions.filter((question) => question.state === state)
  if (own.length === 0) return null
  const areas = (Object.keys(AREAS) as Area[]).filter((area) => own.some((each) => each.area === area))
  return (
    <section id={`group-${state}`} aria-labelledby={`heading-${state}`} tabIndex={-1}>
      <h2 id={`heading-${state}`}>
        {STATE_HEADINGS[state]} <span class="number">{own.length}</span>
      </h2>
      {state === 'nothing-found' ? (
        <p class="soft">Under each question: the smallest fault that this log would have shown.</p>
      ) : null}
      {areas.map((area) => (
        <div key={area} class="area">
          <h3>{AREAS[area]}</h3>
          <ul class="asked">
            {own
              .filter((question) => question.area === area)
              .map((question) => (
                <li key={question.question}>
                  <Shape kind={state} />
                  <div>
                    <strong>{question.question}</strong>
                    <p>
                      {(state === 'nothing-found' ? smallestText(question) : null) ?? sentence(question.why)}
                    </p>
                    {question.to_assess ? (
                      <p>
                        <b>To assess it:</b> {sentence(question.to_assess)}
                      </p>
                    ) : null}
                  </div>
                </li>
              ))}
          </ul>
        </div>
      ))}
    </section>
  )
}
