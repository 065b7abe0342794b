import { useState } from 'preact/hooks'
import type { DriveAnswer } from '../../shared/api.ts'
import { reviewAgain } from '../actions.ts'

/** Places a later log of the drive by hand, where the logs share nothing that tells; empty, the data decide. */
export function PlaceLog({ drive, at, name }: { drive: DriveAnswer; at: number; name: string }) {
  const before = drive.offsets[at - 1] ?? null
  const [text, setText] = useState(before === null ? '' : String(before))
  const [complaint, setComplaint] = useState('')
  const seconds = text.trim() === '' ? null : Number(text.trim().replace(',', '.').replace('−', '-'))
  const send = async (event: Event) => {
    event.preventDefault()
    if (seconds !== null && !Number.isFinite(seconds)) {
      setComplaint(`"${text}" is no number of seconds; such as 12.5 was expected.`)
      return
    }
    setComplaint('')
    const files = drive.review.drive.files.length
    const offsets = Array.from({ length: files - 1 }, (_, i) =>
      i === at - 1 ? seconds : (drive.offsets[i] ?? null),
    )
    await reviewAgain(drive.summary.id, { offsets })
  }
  return (
    <form class="correct" onSubmit={send}>
      <label class="field">
        Seconds to add to this log’s own time to get the first’s
        <input
          class="short"
          inputMode="decimal"
          value={text}
          placeholder="from the data"
          aria-label={`Seconds to add to the own time of ${name}`}
          onInput={(event) => setText(event.currentTarget.value)}
        />
      </label>
      <button type="submit" class="inline" disabled={seconds === before}>
        Read the logs again
      </button>
      <p role="alert" class="complaint">
        {complaint}
      </p>
    </form>
  )
}
