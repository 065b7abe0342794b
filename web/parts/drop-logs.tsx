import { useRef, useState } from 'preact/hooks'
import type { WantedSignals } from '../../shared/api.ts'
import { follow, refresh } from '../actions.ts'
import { type FileToImport, importFiles, NoSignals } from '../api.ts'
import { DOORS, type Door } from '../doors.ts'
import { go } from '../route.ts'
import { fail, state } from '../state.ts'
import { ProposedSignals } from './proposed-signals.tsx'
import { WantedSignalsPanel } from './wanted-signals.tsx'

const ROLES: Readonly<Record<FileToImport['role'], string>> = {
  log: 'log',
  signals: 'signal table',
  vehicle: 'vehicle file',
  map: 'names of columns',
}

/**
 * Where logs are dropped, or chosen by the browser's own dialogue. All files together are one drive. Where something
 * is missing it says what that costs before it reads; where nothing is, it reads at once.
 */
export function DropLogs({ door: given }: { door: Door | undefined }) {
  const door = given ?? DOORS[0]!
  const [over, setOver] = useState(false)
  const [files, setFiles] = useState<readonly FileToImport[]>([])
  const [wanted, setWanted] = useState<WantedSignals | null>(null)
  const input = useRef<HTMLInputElement>(null)
  /** A capture that wants a signal table stays here, beside what was seen in it. */
  const readThem = async (all: readonly FileToImport[]) => {
    setFiles([])
    const wants = await read(all, door)
    setWanted(wants)
    if (wants) setFiles(all)
  }
  const add = async (added: readonly File[]) => {
    if (added.length === 0) return
    const withRoles = await Promise.all(
      added.map(async (file) => ({ file, role: await roleOf(file), whole: await isWhole(file) })),
    )
    const all = [...files.filter(({ file }) => !added.some(({ name }) => name === file.name)), ...withRoles]
    if (missingIn(all, door).length > 0 && !(wanted && all.some(({ role }) => role === 'signals')))
      setFiles(all)
    else await readThem(all)
  }
  const missing = missingIn(files, door)
  const hasLog = files.some(({ role }) => role === 'log')
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
        add([...(event.dataTransfer?.files ?? [])])
      }}
    >
      {files.length === 0 ? (
        <>
          <p class="drop-words">Drop the logs of one drive here</p>
          <p>
            CSV, Parquet or CAN captures, gzip or not; with the car’s vehicle file and signal table if you
            have them. Logs from several boxes become one drive.
          </p>
        </>
      ) : (
        <div class="staged">
          <ul aria-label="Files of this drive">
            {files.map(({ file, role }) => (
              <li key={file.name}>
                <strong>{file.name}</strong> {ROLES[role]}
              </li>
            ))}
          </ul>
          <ul class="missing" aria-label="What is missing">
            {missing.map(({ what, costs }) => (
              <li key={what}>
                <strong>Missing: {what}.</strong> {costs}
              </li>
            ))}
          </ul>
        </div>
      )}
      <div class="button-row">
        {hasLog ? (
          <button type="button" class="large main" onClick={() => readThem(files)}>
            Read without it
          </button>
        ) : null}
        <button type="button" class={hasLog ? 'large' : 'large main'} onClick={() => input.current?.click()}>
          {files.length === 0 ? 'Choose files' : 'Add files'}
        </button>
        {files.length > 0 ? (
          <button
            type="button"
            class="quiet"
            onClick={() => {
              setFiles([])
              setWanted(null)
            }}
          >
            Take others
          </button>
        ) : null}
      </div>
      <input
        ref={input}
        class="unseen"
        type="file"
        multiple
        tabIndex={-1}
        aria-label="Logs of one drive"
        onChange={(event) => {
          add([...(event.currentTarget.files ?? [])])
          event.currentTarget.value = ''
        }}
      />
      {wanted && wanted.rows.length > 0 ? (
        <ProposedSignals
          seen={wanted}
          use={(table) =>
            readThem([...files.filter(({ role }) => role !== 'signals'), { file: table, role: 'signals' }])
          }
        />
      ) : null}
      {wanted ? <WantedSignalsPanel wanted={wanted} /> : null}
    </div>
  )
}

const CAPTURE = /\.(pcap|pcapng)(\.gz)?$/i

/** What these files lack for the door's answer, and what that costs. */
function missingIn(files: readonly FileToImport[], door: Door): Door['vehicle'][] {
  // A drive in one file brings its vehicle file along.
  if (files.some((each) => each.whole)) return []
  const has = (role: FileToImport['role']) => files.some((each) => each.role === role)
  const captured = files.some(({ file }) => CAPTURE.test(file.name))
  return [
    ...(has('log') ? [] : [{ what: 'a log', costs: 'There is nothing to read yet.' }]),
    ...(captured && !has('signals') ? [door.signals] : []),
    ...(has('vehicle') ? [] : [door.vehicle]),
  ]
}

/** Reads them and shows the drive; gives what a capture without a signal table wants. */
async function read(files: readonly FileToImport[], door: Door): Promise<WantedSignals | null> {
  try {
    const sent = new AbortController()
    const sending = (share: number) =>
      state.set({ busy: { doing: 'Sending the files', share, stop: () => sent.abort() } })
    state.set({ error: null })
    sending(0)
    const drive = await follow(await importFiles(files, sending, sent.signal))
    if (drive === null) return null
    await refresh()
    go({ page: 'drive', id: drive, view: door.view, item: '' })
  } catch (error) {
    if (error instanceof NoSignals) {
      state.set({ busy: null })
      return error.wanted
    }
    fail(error)
  }
  return null
}

/** What a file is for: a JSON with `signals` is a signal table, other JSON a vehicle file; the rest are logs. */
async function roleOf(file: File): Promise<FileToImport['role']> {
  if (/^signals.*\.csv$/i.test(file.name)) return 'signals'
  if (!/\.json$/i.test(file.name)) return 'log'
  const text = await file.text()
  return /"signals"\s*:/.test(text) ? 'signals' : 'vehicle'
}

/** Is it a drive as this program writes it into one file? The end of a Parquet file tells. */
async function isWhole(file: File): Promise<boolean> {
  if (!/\.parquet$/i.test(file.name) || file.size < 12) return false
  const tail = new DataView(await file.slice(-8).arrayBuffer())
  const footer = file.slice(-8 - Math.min(tail.getUint32(0, true), file.size - 12), -8)
  return (await footer.text()).includes('{"form":')
}
