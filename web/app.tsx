import { useEffect } from 'preact/hooks'
import type { ReviseRequest } from '../shared/api.ts'
import { finish, listDrives, listSamples, openDrive, revise } from './api.ts'
import { ErrorBar } from './parts/error-bar.tsx'
import { TopBar } from './parts/top-bar.tsx'
import { restoreTheme } from './parts/use-dark.ts'
import { hrefOf, useRoute } from './route.ts'
import { fail, showWhole, state } from './state.ts'
import { useStore } from './store.ts'
import { DriveFrame } from './views/drive-frame.tsx'
import { Home } from './views/home.tsx'

restoreTheme()

export function App() {
  const route = useRoute()
  const drive = useStore(state, (now) => now.drive)
  const error = useStore(state, (now) => now.error)
  const wanted = route.page === 'drive' ? route.id : null
  const place = route.page === 'drive' ? `${route.id}/${route.view}` : 'home'
  useEffect(() => {
    refresh()
  }, [])
  useEffect(() => {
    if (wanted === null) document.title = 'Aftermile'
    else load(wanted)
  }, [wanted])
  // What went wrong in one place is not said in the next.
  useEffect(() => () => state.set({ error: null }), [place])
  const shown = wanted !== null && drive?.summary.id === wanted ? drive : null
  return (
    <>
      <button type="button" class="skip" onClick={skip}>
        Skip to the content
      </button>
      <TopBar drive={shown} />
      <ErrorBar />
      {route.page === 'home' ? (
        <Home />
      ) : shown ? (
        <DriveFrame drive={shown} view={route.view} item={route.item} />
      ) : (
        <main id="content" class="page" tabIndex={-1}>
          {error === null ? (
            <h1>Opening the drive …</h1>
          ) : (
            <>
              <h1>This drive cannot be opened</h1>
              <p>
                It may have been removed. <a href={hrefOf({ page: 'home' })}>All stored drives</a>
              </p>
            </>
          )}
        </main>
      )}
    </>
  )
}

function skip(): void {
  document.getElementById('content')?.focus()
}

export async function refresh(): Promise<void> {
  try {
    const [drives, samples] = await Promise.all([listDrives(), listSamples()])
    state.set({ drives, samples })
  } catch (error) {
    fail(error)
  }
}

/** Reads a stored drive from the server and shows the whole of it. */
export async function load(id: string): Promise<void> {
  try {
    const drive = await openDrive(id)
    document.title = `${drive.summary.title} – Aftermile`
    const same = state.get().drive?.summary.id === id
    state.set({ drive, ...(same ? {} : { charts: [], markA: null, markB: null, cursorS: null }) })
    if (!same) showWhole()
  } catch (error) {
    fail(error)
  }
}

/** Reviews a stored drive again with what was changed, and shows the new review. */
export async function reviewAgain(id: string, change: ReviseRequest): Promise<void> {
  try {
    const job = await revise(id, change)
    await finish(job, ({ doing, share }) => state.set({ busy: { doing, share } }))
    state.set({ busy: null })
    await load(id)
    await refresh()
  } catch (error) {
    fail(error)
  }
}
