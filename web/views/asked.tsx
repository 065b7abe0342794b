import { useState } from 'preact/hooks'
import type { Area, Question, Review } from '../../shared/review.ts'
import { byArea, mostWorthLogging, needsDrive, STATE_HEADINGS } from '../../shared/wording.ts'
import { AskedList } from '../parts/asked-list.tsx'
import { FoldLine } from '../parts/fold-line.tsx'

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

/** A line each for what could not be told, what needs a drive, and what was asked and not found. */
export function AskedLines({ review: { questions, verdict } }: { review: Review }) {
  const of = (state: Question['state']) => questions.filter((each) => each.state === state)
  const clear = of('nothing-found')
  // A car that cannot drive cannot answer them: they stand apart, in one line.
  const parked = verdict.state === 'cannot-drive' ? of('not-assessed').filter(needsDrive) : []
  const open = of('not-assessed').filter((each) => !parked.includes(each))
  const worth = mostWorthLogging(open)
  return (
    <>
      {open.length === 0 ? null : (
        <FoldLine
          id="group-not-assessed"
          name="Could not be told"
          words={
            <>
              {count(open.length)}
              {worth ? (
                <>
                  {' '}
                  Logging <b>{worth.what}</b> would help most: {worth.questions} of them lack it.
                </>
              ) : null}
            </>
          }
        >
          {() => <Asked questions={open} />}
        </FoldLine>
      )}
      {parked.length === 0 ? null : (
        <FoldLine
          id="group-needs-drive"
          name="Needs a drive"
          words={`${parked.length} more ${parked.length === 1 ? 'question needs' : 'questions need'} a car that drives.`}
        >
          {() => <Asked questions={parked} />}
        </FoldLine>
      )}
      {clear.length === 0 ? null : (
        <FoldLine
          id="group-nothing-found"
          name={STATE_HEADINGS['nothing-found']}
          words={`${count(clear.length)} ${areasText(clear)}.`}
        >
          {() => <Asked questions={clear} />}
        </FoldLine>
      )}
    </>
  )
}

const count = (questions: number) => `${questions} ${questions === 1 ? 'question' : 'questions'}.`

/** "Pack 11, heat 6, accelerator 5". */
const areasText = (questions: readonly Question[]) => {
  const text = byArea(questions)
    .map(([area, asked]) => `${AREAS[area].toLowerCase()} ${asked.length}`)
    .join(', ')
  return text.charAt(0).toUpperCase() + text.slice(1)
}

/** Questions by area: what was asked, and how small a fault would have shown, or why it was not assessed. */
function Asked({ questions }: { questions: readonly Question[] }) {
  const [whys, setWhys] = useState(false)
  const clear = questions.some(({ state }) => state === 'nothing-found')
  return (
    <>
      {clear ? (
        <div class="tool-row">
          <p class="soft">Beside each: the smallest fault that these logs would have shown, 9 times in 10.</p>
          <button type="button" class="quiet" aria-pressed={whys} onClick={() => setWhys(!whys)}>
            {whys ? 'Hide how each was judged' : 'Show how each was judged'}
          </button>
        </div>
      ) : null}
      <div class="areas">
        {byArea(questions).map(([area, asked]) => (
          <div key={area} class="area">
            <h3>{AREAS[area]}</h3>
            <AskedList questions={asked} whys={whys} />
          </div>
        ))}
      </div>
    </>
  )
}
