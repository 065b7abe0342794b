import { useState } from 'preact/hooks'
import type { CarAnswer } from '../../shared/car-answer.ts'
import { numberText, readingText } from '../../shared/wording.ts'
import { attachFile, writeNote, writeReading } from '../api.ts'
import { fail } from '../state.ts'

interface Props {
  readonly answer: CarAnswer
  readonly onChange: (answer: CarAnswer) => void
}

/** What people bring to a car: readings taken at it, photos and files, maps tried, notes. */
export function CarBring({ answer, onChange }: Props) {
  const { readings, files, maps, notes } = answer.record
  const [by, setBy] = useState('')
  const [note, setNote] = useState('')
  const [reading, setReading] = useState({ kind: '', place: '', value: '', unit: 'mΩ' })
  const today = new Date().toISOString().slice(0, 10)
  const doing = (work: () => Promise<CarAnswer>, then: () => void) => async (event: Event) => {
    event.preventDefault()
    try {
      onChange(await work())
      then()
    } catch (error) {
      fail(error)
    }
  }
  const text = (label: string, key: keyof typeof reading) => (
    <label class="field">
      {label}
      <input
        required
        value={reading[key]}
        onInput={(event) => setReading({ ...reading, [key]: event.currentTarget.value })}
      />
    </label>
  )
  return (
    <section aria-labelledby="bring">
      <h2 id="bring">Readings, photos, notes</h2>
      <ul>
        {readings.map((each) => (
          <li key={`${each.date} ${each.kind} ${each.place} ${each.value}`}>
            {each.kind}, {each.place}: {readingText(each)}
          </li>
        ))}
        {files.map((each) => (
          <li key={each.number}>
            <a href={`/api/cars/${encodeURIComponent(answer.car)}/files/${each.number}`}>{each.name}</a>
            {each.about ? `: ${each.about}` : ''} ({each.at.slice(0, 10)}, {each.by})
          </li>
        ))}
        {maps.map(({ map, at, by: who, about }) => (
          <li key={at}>
            Map tried: {numberText(map.start_bar)} to {numberText(map.full_bar)} bar, {numberText(map.max_nm)}{' '}
            N·m
            {about ? `: ${about}` : ''} ({at.slice(0, 10)}, {who})
          </li>
        ))}
        {notes.map((each) => (
          <li key={`${each.at} ${each.text}`}>
            {each.text} ({each.at.slice(0, 10)}, {each.by})
          </li>
        ))}
      </ul>
      <label class="field">
        Your name, for what you bring
        <input value={by} maxLength={200} onInput={(event) => setBy(event.currentTarget.value)} />
      </label>
      <form
        class="deed-form"
        aria-label="A reading taken at the car"
        onSubmit={doing(
          () => writeReading(answer.car, { ...reading, value: Number(reading.value), date: today, by }),
          () => setReading({ ...reading, value: '' }),
        )}
      >
        {text('What was measured', 'kind')}
        {text('Where', 'place')}
        {text('Reading', 'value')}
        {text('Unit', 'unit')}
        <button type="submit" disabled={by.trim() === ''}>
          Keep the reading
        </button>
      </form>
      <form
        class="deed-form"
        aria-label="A note"
        onSubmit={doing(
          () => writeNote(answer.car, { at: new Date().toISOString(), by, text: note }),
          () => setNote(''),
        )}
      >
        <label class="field wide">
          Note
          <textarea rows={2} required value={note} onInput={(event) => setNote(event.currentTarget.value)} />
        </label>
        <button type="submit" disabled={by.trim() === ''}>
          Keep the note
        </button>
      </form>
      <label class="field">
        Photo or file
        <input
          type="file"
          disabled={by.trim() === ''}
          onChange={(event) => {
            const [file] = event.currentTarget.files ?? []
            if (file)
              doing(
                () => attachFile(answer.car, file, by),
                () => {},
              )(event)
          }}
        />
      </label>
    </section>
  )
}
