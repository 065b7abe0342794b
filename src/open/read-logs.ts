import { basename } from 'node:path'
import type { RawLog } from '../../shared/raw-log.ts'
import { openLogSource } from '../bytes/file-source.ts'
import { LogError } from '../errors.ts'
import type { ImportOptions } from '../importers/importer.ts'
import { readLog } from '../importers/registry.ts'
import { readColumnMap } from '../naming/column-map.ts'

/** A log on disk and the name that people know it by (the page keeps logs under other names). */
export interface NamedFile {
  readonly path: string
  readonly name?: string
}

/**
 * The logs of one drive, read: the only way in, for command line and page alike. A column that the map names and no log
 * has is a slip of the pen: said, not passed over.
 * @param progress called with the log's place in the list, its name and the share of it that is read
 * @throws LogError as the importers do, naming each log as people know it
 */
export async function readLogs(
  files: readonly NamedFile[],
  options: ImportOptions,
  progress: (at: number, name: string, share: number) => void = (_at, _name, share) =>
    options.progress?.(share),
): Promise<RawLog[]> {
  const logs: RawLog[] = []
  for (const [at, { path, name = basename(path) }] of files.entries()) {
    progress(at, name, 0)
    try {
      const source = await openLogSource(path)
      logs.push(
        await readLog({ ...source, name }, { ...options, progress: (share) => progress(at, name, share) }),
      )
    } catch (error) {
      // Where a log is kept is nobody's business, unless it was asked for by that path.
      if (error instanceof LogError && files[at]!.name !== undefined)
        error.message = error.message.replaceAll(path, name)
      throw error
    }
  }
  if (options.map !== undefined) await checkMapUsed(options.map, logs)
  return logs
}

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
