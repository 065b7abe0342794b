import type { Drive } from '../../shared/drive.ts'
import type { RawLog } from '../../shared/raw-log.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { openLogSource } from '../bytes/file-source.ts'
import { buildDrive } from '../drive/build-drive.ts'
import { LogError } from '../errors.ts'
import type { ImportOptions } from '../importers/importer.ts'
import { readLog } from '../importers/registry.ts'
import { readColumnMap } from '../naming/column-map.ts'

/** What goes with the logs. */
export interface OpenOptions extends ImportOptions {
  readonly vehicle?: Vehicle
  /** Seconds to add to the second, third … log's own time where nothing shared tells (`--offset`). */
  readonly offsets?: readonly number[]
}

/** Paths → one drive: reads each log, names, puts on one clock, builds the normal form. */
export async function openDrive(paths: readonly string[], options: OpenOptions = {}): Promise<Drive> {
  const logs: RawLog[] = []
  for (const path of paths) logs.push(await readLog(await openLogSource(path), options))
  if (options.map !== undefined) await checkMapUsed(options.map, logs)
  return buildDrive(logs, options)
}

/** A column that the map names and no log has is a slip of the pen: said, not passed over. */
async function checkMapUsed(path: string, logs: readonly RawLog[]): Promise<void> {
  const map = await readColumnMap(path)
  const present = new Set(logs.flatMap((log) => log.series.map((series) => series.name)))
  const missing = Object.entries(map).find(([column, given]) => given !== null && !present.has(column))
  if (missing)
    throw new LogError(
      'map',
      `${path}: no log has a column "${missing[0]}"; a name as the log writes it was expected.`,
    )
}
