import type { Corrections } from '../../shared/api.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { NoSignalsError } from '../importers/frames/frames-seen.ts'
import { proposedRows } from '../look/rows-for-page.ts'
import { besideEarlier } from './beside-earlier.ts'
import { importDrive } from './import-drive.ts'
import type { LogFile } from './log-file.ts'
import { openPlace } from './place.ts'
import { rememberCorrections, rememberedCorrections } from './remembered.ts'
import { storeDrive } from './store-drive.ts'

/** Plain data, so that it can be handed to a worker. */
export interface ImportTask {
  readonly dataDir: string
  readonly logs: readonly LogFile[]
  readonly vehicle: Vehicle
  readonly signals?: string | undefined
  readonly map?: string | undefined
  /** Seconds to add to the second, third … log's own time; null where the data decide. */
  readonly offsets?: readonly (number | null)[] | undefined
  /** Corrections of this drive; without them what is remembered for the logs' layout is used. */
  readonly corrections?: Corrections | undefined
  /** Corrections to keep for the next logs of these layouts. */
  readonly remember?: Corrections | undefined
  /** The stored drive that this import replaces. */
  readonly replaces?: { readonly id: string; readonly title: string; readonly addedAt: string } | undefined
}

/** Imports, reviews and stores a drive; gives its id. */
export async function importAndStore(
  task: ImportTask,
  progress: (doing: string, share: number) => void,
): Promise<string> {
  const place = openPlace(task.dataDir)
  let used: Corrections = task.corrections ?? {}
  const imported = await importDrive({
    logs: task.logs,
    vehicle: task.vehicle,
    signals: task.signals,
    map: task.map,
    offsets: task.offsets,
    corrections(fingerprint) {
      if (task.corrections) return task.corrections
      const remembered = rememberedCorrections(place, fingerprint)
      used = { ...used, ...remembered }
      return remembered
    },
    progress,
  }).catch((error: unknown) => withProposals(error, task, progress))
  if (task.remember)
    for (const fingerprint of imported.fingerprints) rememberCorrections(place, fingerprint, task.remember)
  const { replaces } = task
  return storeDrive(place, {
    drive: imported.drive,
    review: besideEarlier(
      place,
      imported.vehicle.name,
      imported.review,
      replaces,
      imported.vehicle.kit,
      imported.vehicle,
    ),
    logs: task.logs,
    vehicle: imported.vehicle,
    signals: task.signals,
    map: task.map,
    offsets: task.offsets,
    corrections: used,
    ...(replaces ? { id: replaces.id, title: replaces.title, addedAt: replaces.addedAt } : {}),
  }).id
}

/** A capture without its signal table: what its own bits tell, and the logs beside it, goes along with the refusal. */
async function withProposals(
  error: unknown,
  { logs }: ImportTask,
  progress: (doing: string, share: number) => void,
): Promise<never> {
  const capture = error instanceof NoSignalsError && logs.find(({ name }) => name === error.log)
  if (capture) {
    progress('Looking at the bus', 0.5)
    const others = logs.filter((log) => log !== capture).map(({ path }) => path)
    Object.assign(error, { proposed: await proposedRows(capture.path, others) })
  }
  throw error
}
