import type { Drive } from '../../shared/drive.ts'
import { readLogBytes } from '../bytes/file-source.ts'
import { buildDrive } from '../drive/build-drive.ts'
import { readWideCsv } from './wide-csv.ts'

/** Paths → one drive: reads each log, names, puts on one clock, builds the normal form. */
/** What goes with the logs: a signal table, a name map, where corrections are kept, a fixed offset. */
export interface OpenOptions {
  readonly signals?: string
  readonly map?: string
}

export async function openDrive(paths: readonly string[], _options: OpenOptions = {}): Promise<Drive> {
  const logs = []
  for (const path of paths) logs.push(readWideCsv(await readLogBytes(path)))
  return buildDrive(logs)
}
