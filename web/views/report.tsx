import { useRef, useState } from 'preact/hooks'
import { load, refresh } from '../actions.ts'
import { saveNotes } from '../api.ts'
import { fail } from '../state.ts'
import type { ViewProps } from './drive-frame.tsx'

/** The hand-over sheet as it prints, and the notes that go on it. */
export function Report({ drive }: ViewProps) {
  const { id, title } = drive.summary
  const [notes, setNotes] = useState(drive.notes)
  const [name, setName] = useState(title)
  const [version, setVersion] = useState(0)
  const [said, setSaid] = useState('')
  const frame = useRef<HTMLIFrameElement>(null)
  const save = async (event: Event) => {
    event.preventDefault()
    try {
      await saveNotes(id, notes, name.trim() || title)
      await load(id)
      await refresh()
      setVersion(version + 1)
      setSaid('Kept. The sheet below shows them.')
    } catch (error) {
      fail(error)
    }
  }
  return (
    <>
      <h1>Hand-over sheet</h1>
      <form class="notes-form" onSubmit={save}>
        <label class="field">
          Title of the drive
          <input value={name} maxLength={200} onInput={(event) => setName(event.currentTarget.value)} />
        </label>
        <label class="field wide">
          Notes on the sheet
          <textarea
            rows={4}
            value={notes}
            maxLength={20000}
            onInput={(event) => {
              setNotes(event.currentTarget.value)
              setSaid('')
            }}
          />
        </label>
        <div class="tool-row">
          <button type="submit" class="main">
            Keep title and notes
          </button>
          <button type="button" onClick={() => frame.current?.contentWindow?.print()}>
            Print
          </button>
          <a class="button" href={`/api/drives/${id}/report`} target="_blank" rel="noreferrer">
            Open on its own
          </a>
          <a class="button" href={`/api/drives/${id}/file`} download={`${fileName(title)}.parquet`}>
            The drive in one file
          </a>
          <span role="status">{said}</span>
        </div>
      </form>
      <iframe
        ref={frame}
        key={version}
        class="sheet"
        title="Hand-over sheet"
        src={`/api/drives/${id}/report?v=${version}`}
      />
    </>
  )
}

/** A title fit for a file's name. */
const fileName = (title: string): string => title.replace(/[^\p{L}\p{N}._-]+/gu, '-').slice(0, 80) || 'drive'
