import type { Job, ReviseRequest } from '../shared/api.ts'
import { cancelImport, finish, listDrives, listSamples, openDrive, revise } from './api.ts'
import { showAsked } from './shown.ts'
import { fail, showWhole, state } from './state.ts'

/** What several views do with the server's answers. Views and parts call it; it knows none of them. */
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
    if (same) return
    showWhole()
    showAsked(drive)
  } catch (error) {
    fail(error)
  }
}

/** Reviews a stored drive again with what was changed, and shows the new review. */
export async function reviewAgain(id: string, change: ReviseRequest): Promise<void> {
  try {
    if ((await follow(await revise(id, change))) === null) return
    await load(id)
    await refresh()
  } catch (error) {
    fail(error)
  }
}

/** Shows how far an import is, with a way to end it; gives the drive's id, null where it was cancelled. */
export async function follow(job: Job): Promise<string | null> {
  const stop = () => {
    cancelImport(job.id).catch(fail)
  }
  const drive = await finish(job, ({ doing, share }) => state.set({ busy: { doing, share, stop } }))
  state.set({ busy: null })
  return drive
}
