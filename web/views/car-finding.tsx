import { useState } from 'preact/hooks'
import type { CarAnswer, CarFinding as Line } from '../../shared/car-answer.ts'
import { DEED_STATES, DEED_WORDS, type Deed } from '../../shared/car-record.ts'
import { cautionName, numberText } from '../../shared/wording.ts'
import { writeDeed } from '../api.ts'
import { SeverityMark } from '../parts/severity-mark.tsx'
import { fail } from '../state.ts'

interface Props {
  readonly line: Line
  readonly answer: CarAnswer
  readonly onChange: (answer: CarAnswer) => void
}

/** One finding of the car over its drives: what became of it, what later drives say, and a form to say more. */
export function CarFinding({ line, answer, onChange }: Props) {
  const [open, setOpen] = useState(false)
  const cautions = [...new Set(line.cautions.map(cautionName))]
  return (
    <article class={`panel car-finding ${line.severity}`}>
      <h3>
        <SeverityMark kind={line.severity} /> {line.headline}
      </h3>
      <p class="facts">
        In {line.seen_in.length} of {answer.drives.length} {answer.drives.length === 1 ? 'drive' : 'drives'} ·{' '}
        {DEED_WORDS[line.state]}
      </p>
      {line.deeds.map((deed) => (
        <p key={`${deed.at} ${deed.state}`}>{deedLine(deed)}</p>
      ))}
      {line.retests.map((each) => (
        <p key={each.drive} class="retest">
          <b>{each.title}:</b> {each.sentence}
        </p>
      ))}
      {line.stands ? (
        <p>
          <b>Next step:</b> {line.next_step}
          {cautions.length > 0 ? <i> Take care: {cautions.join('; ')}.</i> : null}
        </p>
      ) : null}
      {open ? (
        <DeedForm line={line} answer={answer} onChange={onChange} onDone={() => setOpen(false)} />
      ) : (
        <button
          type="button"
          onClick={() => setOpen(true)}
          aria-label={`What became of it: ${line.headline}`}
        >
          What became of it
        </button>
      )}
    </article>
  )
}

function deedLine({ state, at, by, reason, before, after }: Deed): string {
  const figures = [
    before ? `${numberText(before.value)} ${before.unit} before` : '',
    after ? `${numberText(after.value)} ${after.unit} after` : '',
  ].filter(Boolean)
  const said = `${DEED_WORDS[state].charAt(0).toUpperCase()}${DEED_WORDS[state].slice(1)} on ${at.slice(0, 10)} by ${by}`
  return `${said}${reason ? `: ${reason}` : ''}${figures.length > 0 ? ` (${figures.join(', ')})` : ''}`
}

function DeedForm({ line, answer, onChange, onDone }: Props & { onDone: () => void }) {
  const [state, setState] = useState<Deed['state']>('mended')
  const [by, setBy] = useState('')
  const [at, setAt] = useState(new Date().toISOString().slice(0, 10))
  const [reason, setReason] = useState('')
  const [before, setBefore] = useState('')
  const [after, setAfter] = useState('')
  const [unit, setUnit] = useState('mΩ')
  const keep = async (event: Event) => {
    event.preventDefault()
    const figure = (text: string) => (text.trim() === '' ? null : { value: Number(text), unit })
    try {
      const deed = { state, at, by, reason, before: figure(before), after: figure(after), drive: null }
      onChange(await writeDeed(answer.car, line.id, deed))
      onDone()
    } catch (error) {
      fail(error)
    }
  }
  const field = (label: string, value: string, set: (text: string) => void, more: object = {}) => (
    <label class="field">
      {label}
      <input value={value} onInput={(event) => set(event.currentTarget.value)} {...more} />
    </label>
  )
  return (
    <form class="deed-form" onSubmit={keep}>
      <label class="field">
        What became of it
        <select value={state} onChange={(event) => setState(event.currentTarget.value as Deed['state'])}>
          {DEED_STATES.map((each) => (
            <option key={each} value={each}>
              {DEED_WORDS[each]}
            </option>
          ))}
        </select>
      </label>
      {field('By', by, setBy, { required: true, maxLength: 200 })}
      {field('On', at, setAt, { type: 'date', required: true })}
      {field(state === 'accepted' ? 'Reason' : 'What was done', reason, setReason, {
        required: state === 'accepted',
        maxLength: 2000,
      })}
      {state === 'mended' ? (
        <>
          {field('Reading before', before, setBefore, { inputMode: 'decimal', pattern: '-?[0-9.]*' })}
          {field('Reading after', after, setAfter, { inputMode: 'decimal', pattern: '-?[0-9.]*' })}
          {field('Unit', unit, setUnit, { maxLength: 20 })}
        </>
      ) : null}
      <p class="facts">
        This is kept beside the finding. It lowers nothing: what a drive shows stands as it shows it.
      </p>
      <div class="tool-row">
        <button type="submit" class="main">
          Keep
        </button>
        <button type="button" onClick={onDone}>
          Leave it
        </button>
      </div>
    </form>
  )
}
