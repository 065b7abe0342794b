import { useState } from 'preact/hooks'
import type { Area, Question } from '../../shared/review.ts'
import { byArea, STATE_HEADINGS } from '../../shared/wording.ts'
import { AskedList } from '../parts/asked-list.tsx'

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
  const [whys, setWhys] = useState(false)
  const own = questions.filter((question) => question.state === state)
  if (own.length === 0) return null
  return (
    <section id={`group-${state}`} aria-labelledby={`heading-${state}`} tabIndex={-1}>
      <h2 id={`heading-${state}`}>
        {STATE_HEADINGS[state]} <span class="number">{own.length}</span>
      </h2>
      {state === 'nothing-found' ? (
        <div class="tool-row">
          <p class="soft">Beside each: the smallest fault that these logs would have shown, 9 times in 10.</p>
          <button type="button" class="quiet" aria-pressed={whys} onClick={() => setWhys(!whys)}>
            {whys ? 'Hide how each was judged' : 'Show how each was judged'}
          </button>
        </div>
      ) : null}
      <div class="areas">
        {byArea(own).map(([area, asked]) => (
          <div key={area} class="area">
            <h3>{AREAS[area]}</h3>
            <AskedList questions={asked} whys={whys} />
          </div>
        ))}
      </div>
    </section>
  )
}
