import { useRef, useState } from 'preact/hooks'
import { refresh } from '../actions.ts'
import { type FileToImport, finish, importFiles } from '../api.ts'
import { go } from '../route.ts'
import { fail, state } from '../state.ts'

/** Where logs are dropped, or chosen by the browser's own dialogue. All files together are one drive. */
export function DropLogs() {
  const [over, setOver] = useState(false)
  const input = useRef<HTMLInputElement>(null)
  return (
    // biome-ignore lint/a11y/noStaticElementInteractions: dropping has a button beside it that does the same
    <div
      class={`drop ${over ? 'drop-over' : ''}`}
      onDragOver={(event) => {
        event.preventDefault()
        setOver(true)
      }}
      onDragLeave={() => setOver(false)}
      onDrop={(event) => {
        event.preventDefault()
        setOver(false)
        take([...(event.dataTransfer?.files ?? [])])
      }}
    >
      <p class="drop-words">Drop the logs of one drive here</p>
      <p>
        CSV or CAN captures, gzip or not; with the car’s vehicle file and signal table if you have them. Logs
        from several boxes become one drive.
      </p>
      <button type="button" class="large main" onClick={() => input.current?.click()}>
        Choose files
      </button>
      <input
        ref={input}
        class="unseen"
        type="file"
        multiple
        tabIndex={-1}
        aria-label="Logs of one drive"
        onChange={(event) => take([...(event.currentTarget.files ?? [])])}
      />
    </div>
  )
}

async function take(files: readonly File[]): Promise<void> {
  if (files.length === 0) return
  try {
    state.set({ error: null, busy: { doing: 'Sending the files', share: 0 } })
    const withRoles = await Promise.all(files.map(async (file) => ({ file, role: await roleOf(file) })))
    const job = await importFiles(withRoles, (share) =>
      state.set({ busy: { doing: 'Sending the files', share } }),
    )
    const drive = await finish(job, ({ doing, share }) => state.set({ busy: { doing, share } }))
    state.set({ busy: null })
    await refresh()
    go({ page: 'drive', id: drive, view: 'findings', item: '' })
  } catch (error) {
    fail(error)
  }
}

/** What a file is for: a JSON with `signals` is a signal table, other JSON a vehicle file; the rest are logs. */
async function roleOf(file: File): Promise<FileToImport['role']> {
  if (/^signals.*\.csv$/i.test(file.name)) return 'signals'
  if (!/\.json$/i.test(file.name)) return 'log'
  const text = await file.text()
  return /"signals"\s*:/.test(text) ? 'signals' : 'vehicle'
}
