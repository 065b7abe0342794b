import { readdirSync, statSync } from 'node:fs'
import { join, resolve } from 'node:path'
import { LogError } from '../errors.ts'

/** What may be a log, by its name. */
const LOG = /\.(csv|tsv|txt|log|dat|asc|pcap|pcapng|parquet)(\.gz)?$/i
/** A file that marks a folder of results: no logs are looked for in it. */
export const RESULTS_MARK = '.aftermile'
const SIGNALS = /^signals.*\.(json|csv)$/i
const VEHICLE = /^(vehicle|car)\b.*\.json$/i
const MAP = /^map\b.*\.json$/i

/** Files that go with the logs of a folder and of the folders beneath it. */
export interface Beside {
  readonly vehicle?: string
  readonly signals?: string
  readonly map?: string
}

/** A folder that holds logs. */
export interface LogFolder {
  readonly folder: string
  /** Paths, by name. */
  readonly logs: readonly string[]
  readonly beside: Beside
}

/**
 * All folders beneath that hold logs, each with the vehicle file, signal table and map that lie in it or, nearest, above
 * it. Hidden folders are not looked into.
 * @param leaveOut a folder that is passed over: the results of an earlier run
 */
export function findLogs(folders: readonly string[], leaveOut: string): LogFolder[] {
  const found = new Map<string, LogFolder>()
  for (const folder of folders) {
    const root = resolve(folder)
    if (!isFolder(root))
      throw new LogError('usage', `${folder}: is no folder; a folder with the logs of drives was expected.`)
    walk(root, {}, resolve(leaveOut), found)
  }
  return [...found.values()].sort((a, b) => (a.folder < b.folder ? -1 : 1))
}

function walk(folder: string, above: Beside, leaveOut: string, found: Map<string, LogFolder>): void {
  if (folder === leaveOut || found.has(folder)) return
  const all = readdirSync(folder, { withFileTypes: true })
  if (all.some(({ name }) => name === RESULTS_MARK)) return
  const entries = all.filter(({ name }) => !name.startsWith('.'))
  const files = entries
    .filter((each) => each.isFile() || (each.isSymbolicLink() && !isFolder(join(folder, each.name))))
    .map(({ name }) => name)
    .sort()
  const beside = { ...above, ...besideIn(folder, files) }
  const logs = files.filter((name) => LOG.test(name) && !SIGNALS.test(name)).map((name) => join(folder, name))
  if (logs.length > 0) found.set(folder, { folder, logs, beside })
  for (const entry of entries)
    if (entry.isDirectory()) walk(join(folder, entry.name), beside, leaveOut, found)
}

function besideIn(folder: string, files: readonly string[]): Beside {
  const only = (what: RegExp): string | undefined => {
    const [first] = files.filter((name) => what.test(name))
    return first === undefined ? undefined : join(folder, first)
  }
  const [vehicle, signals, map] = [only(VEHICLE), only(SIGNALS), only(MAP)]
  return {
    ...(vehicle === undefined ? {} : { vehicle }),
    ...(signals === undefined ? {} : { signals }),
    ...(map === undefined ? {} : { map }),
  }
}

function isFolder(path: string): boolean {
  try {
    return statSync(path).isDirectory()
  } catch {
    return false
  }
}
