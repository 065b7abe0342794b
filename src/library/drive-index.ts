import { appendFileSync, readdirSync, readFileSync, rmSync, statSync } from 'node:fs'
import { join } from 'node:path'
import type { DriveSummary } from '../../shared/api.ts'
import { diskFault, writeAside } from './durable.ts'
import { isId } from './ids.ts'
import { drivesDir, type Place } from './paths.ts'

/**
 * The list of stored drives without opening each: `DATA/index.ndjson`, a line a drive, a later line of a drive in place
 * of an earlier one. It is a copy that can be made again at any time: a line counts only while the drive's folder is as old
 * as when it was read (every change of this program is a rename in it), and at a process's first list its `drive.json` too,
 * so whoever changes a drive need not know of it, and a damaged or torn line is a drive to read again.
 */
export interface IndexRow {
  readonly id: string
  /** Of the drive's folder and of the file read in it, ms. */
  readonly folder_ms: number
  readonly file_ms: number
  readonly file: string
  /** Nothing is left in the folder that somebody would have to tidy. */
  readonly tidy: boolean
  readonly summary: DriveSummary
}

/** What reading a drive gives for its row; null: there is no such drive. */
export type ReadRow = (id: string) => { summary: DriveSummary; file: string; tidy: boolean } | null

const FORM = '{"aftermile_index":1}'
/** A change so soon after another may leave the same time in a file system: such a row is read again, ms. */
const RACY_MS = 200
/** Lines in place of which later ones stand are dropped when they are that share of the file. */
const WORN = 1

interface Held {
  readonly rows: Map<string, IndexRow>
  /** Lines in the file, dead ones too. */
  lines: number
  /** The files behind the lines were looked at by this process. */
  checked: boolean
}

/** What this process has read of each index already. */
const held = new Map<string, Held>()

/** Rows of all stored drives, the newest first; what is new or changed is read, and its line written for the next time. */
export function indexedDrives(place: Place, read: ReadRow): DriveSummary[] {
  const known = heldOf(place)
  const fresh: IndexRow[] = []
  const found: DriveSummary[] = []
  const seen = new Set<string>()
  for (const id of readdirSync(drivesDir(place)).filter(isId).sort().reverse()) {
    seen.add(id)
    const row = known.rows.get(id)
    if (row && isCurrent(place, row, !known.checked)) {
      found.push(row.summary)
      continue
    }
    const now = rowOf(place, id, read)
    if (!now) continue
    found.push(now.row.summary)
    if (now.settled) {
      known.rows.set(id, now.row)
      fresh.push(now.row)
    } else known.rows.delete(id)
  }
  known.checked = true
  for (const id of known.rows.keys()) if (!seen.has(id)) known.rows.delete(id)
  keep(place, known, fresh)
  return found
}

/** True where the index knows that the drive's folder is as whoever stored it left it. */
export function isTidy(place: Place, id: string): boolean {
  const row = heldOf(place).rows.get(id)
  return row?.tidy === true && isCurrent(place, row, false)
}

/** Throws the index away; the next list makes it again from the drives. */
export function forgetIndex(place: Place): void {
  held.delete(place.dataDir)
  rmSync(indexPath(place), { force: true })
}

const indexPath = (place: Place): string => join(place.dataDir, 'index.ndjson')

function isCurrent(place: Place, row: IndexRow, fileToo: boolean): boolean {
  const folder = `${drivesDir(place)}/${row.id}`
  return msOf(folder) === row.folder_ms && (!fileToo || msOf(join(folder, row.file)) === row.file_ms)
}

const msOf = (path: string): number | undefined => statSync(path, { throwIfNoEntry: false })?.mtimeMs

/** Reads a drive; not settled where it may be changing under the reader's eyes. */
function rowOf(place: Place, id: string, read: ReadRow): { row: IndexRow; settled: boolean } | null {
  const folder = join(drivesDir(place), id)
  const before = msOf(folder)
  const made = read(id)
  if (!made) return null
  const fileMs = msOf(join(folder, made.file))
  const row = { id, folder_ms: before ?? 0, file_ms: fileMs ?? 0, ...made }
  const settled =
    before !== undefined &&
    fileMs !== undefined &&
    msOf(folder) === before &&
    Date.now() - Math.max(before, fileMs) > RACY_MS
  return { row, settled }
}

function heldOf(place: Place): Held {
  const known = held.get(place.dataDir)
  if (known) return known
  const made = loaded(place)
  held.set(place.dataDir, made)
  return made
}

function loaded(place: Place): Held {
  const rows = new Map<string, IndexRow>()
  let text = ''
  try {
    text = readFileSync(indexPath(place), 'utf8')
  } catch {}
  const lines = text.split('\n')
  if (lines[0] !== FORM) return { rows, lines: 0, checked: false }
  for (const line of lines) {
    if (!line.startsWith('{"id":')) continue
    try {
      const row = JSON.parse(line) as IndexRow
      if (isId(row.id) && typeof row.summary?.title === 'string') rows.set(row.id, row)
    } catch {
      // a torn line: its drive is read again
    }
  }
  return { rows, lines: lines.length - 1, checked: false }
}

/** Writes new rows at the end, or the whole file where it is new or worn. A disk that takes nothing costs only time. */
function keep(place: Place, known: Held, fresh: readonly IndexRow[]): void {
  if (fresh.length === 0) return
  const line = (row: IndexRow): string => `${JSON.stringify(row)}\n`
  try {
    if (known.lines === 0 || known.lines + fresh.length > (1 + WORN) * known.rows.size + 64) {
      writeAside(indexPath(place), `${FORM}\n${[...known.rows.values()].map(line).join('')}`)
      known.lines = known.rows.size
    } else {
      appendFileSync(indexPath(place), `\n${fresh.map(line).join('')}`, { mode: 0o600 })
      known.lines += fresh.length
    }
  } catch (error) {
    if (diskFault(error) === null && (error as NodeJS.ErrnoException).code !== 'ENOENT') throw error
  }
}
