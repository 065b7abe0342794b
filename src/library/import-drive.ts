import type { Corrections } from '../../shared/api.ts'
import type { Drive } from '../../shared/drive.ts'
import type { Review } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { buildDrive } from '../drive/build-drive.ts'
import { readLogs } from '../open/read-logs.ts'
import { reviewDrive } from '../review/review.ts'
import type { LogFile } from './log-file.ts'

export interface DriveToImport {
  readonly logs: readonly LogFile[]
  readonly vehicle: Vehicle
  readonly signals?: string | undefined
  readonly map?: string | undefined
  /** Seconds to add to the second, third … log's own time; null where the data decide. */
  readonly offsets?: readonly (number | null)[] | undefined
  /** Corrections for logs of this fingerprint. */
  readonly corrections?: (fingerprint: string) => Corrections
  readonly progress?: (doing: string, share: number) => void
}

export interface ImportedDrive {
  readonly drive: Drive
  /** As asked, or where none was given the one that came inside a drive's file. */
  readonly vehicle: Vehicle
  readonly review: Review
  readonly fingerprints: readonly string[]
}

/** Logs on disk → one reviewed drive. @throws LogError as the importers do, naming the log by its own name. */
export async function importDrive(request: DriveToImport): Promise<ImportedDrive> {
  const progress = request.progress ?? (() => {})
  const raw = await readLogs(
    request.logs,
    {
      ...(request.signals === undefined ? {} : { signals: request.signals }),
      ...(request.map === undefined ? {} : { map: request.map }),
      ...(request.corrections === undefined ? {} : { remembered: request.corrections }),
    },
    (at, name, share) => progress(`Reading ${name}`, (0.8 * (at + share)) / request.logs.length),
  )
  progress('Putting the logs on one clock', 0.82)
  const drive = buildDrive(raw, { vehicle: request.vehicle, offsets: request.offsets ?? [] })
  progress('Looking for what the drive shows', 0.88)
  const vehicle = Object.keys(request.vehicle).length > 0 ? request.vehicle : (drive.vehicle ?? {})
  const review = reviewDrive(drive, vehicle)
  progress('Storing', 0.95)
  return { drive, vehicle, review, fingerprints: raw.map((log) => log.fingerprint) }
}
