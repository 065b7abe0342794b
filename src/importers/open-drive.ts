import type { Drive } from '../../shared/drive.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { openLogSource } from '../bytes/file-source.ts'
import { buildDrive } from '../drive/build-drive.ts'
import { type ImportOptions, readLog } from './registry.ts'

/** What goes with the logs. */
export interface OpenOptions extends ImportOptions {
  readonly vehicle?: Vehicle
  /** Seconds to add to the second, third … log's own time where nothing shared tells (`--offset`). */
  readonly offsets?: readonly number[]
}

/** Paths → one drive: reads each log, names, puts on one clock, builds the normal form. */
export async function openDrive(paths: readonly string[], options: OpenOptions = {}): Promise<Drive> {
  const logs = []
  for (const path of paths) logs.push(await readLog(await openLogSource(path), options))
  return buildDrive(logs, options)
}
