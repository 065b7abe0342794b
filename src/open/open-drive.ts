import type { Drive } from '../../shared/drive.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { buildDrive } from '../drive/build-drive.ts'
import type { ImportOptions } from '../importers/importer.ts'
import { readLogs } from './read-logs.ts'

/** What goes with the logs. */
export interface OpenOptions extends ImportOptions {
  readonly vehicle?: Vehicle
  /** Seconds to add to the second, third … log's own time where nothing shared tells (`--offset`). */
  readonly offsets?: readonly number[]
}

/** Paths → one drive: reads each log, names, puts on one clock, builds the normal form. */
export async function openDrive(paths: readonly string[], options: OpenOptions = {}): Promise<Drive> {
  return buildDrive(
    await readLogs(
      paths.map((path) => ({ path })),
      options,
    ),
    options,
  )
}
