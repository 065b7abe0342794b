import { copyFileSync, existsSync, mkdirSync, readdirSync } from 'node:fs'
import { basename, join } from 'node:path'
import { type Corrections, correctionsSchema, type DriveSummary } from '../../shared/api.ts'
import type { Drive, DriveFrame } from '../../shared/drive.ts'
import type { Review } from '../../shared/review.ts'
import { type Vehicle, vehicleSchema } from '../../shared/vehicle.ts'
import { LogError } from '../errors.ts'
import { findingId } from '../facts/finding.ts'
import { reviewDrive } from '../review/review.ts'
import { cannotShow, damagedSummary, jsonOrNull, savedLogs } from './damaged.ts'
import { indexedDrives, type ReadRow } from './drive-index.ts'
import { onDisk } from './durable.ts'
import { currentFolder, isAsStored, removeGenerations } from './generations.ts'
import type { LogFile } from './log-file.ts'
import { readNotes, writeNotes } from './notes.ts'
import { driveDir, type Place } from './paths.ts'
import { ChannelReader } from './read-channels.ts'
import { type StoredDrive, storedDriveSchema } from './stored-drive.ts'
import { openReview } from './stored-review.ts'

/** What is stored of one drive, but for its samples. */
export interface ShownDrive {
  readonly stored: StoredDrive
  readonly review: Review
  readonly vehicle: Vehicle
  readonly corrections: Corrections
  readonly notes: string
  /** What is lost of it, a sentence each. */
  readonly troubles: readonly string[]
  readonly logs: readonly LogFile[]
  readonly signals: string | undefined
  readonly map: string | undefined
  readonly offsets: readonly (number | null)[]
}

/** All stored drives, the newest first. One that is damaged, or of a newer version, is listed as what it is. */
export function drivesIn(place: Place): DriveSummary[] {
  return indexedDrives(place, (id) => listedDrive(place, id))
}

function listedDrive(place: Place, id: string): ReturnType<ReadRow> {
  const read = reading(place, id, (folder) => ({ folder, json: jsonOrNull(join(folder, 'drive.json')) }))
  if (!read) return null
  const { folder, json } = read
  const { title } = readNotes(place, id)
  const stored = storedDriveSchema.safeParse(json)
  const own = stored.success ? completed(stored.data.summary, folder) : damagedSummary(id, json, title)
  return {
    summary: title === undefined ? own : { ...own, title },
    file: folder === driveDir(place, id) ? 'drive.json' : join(basename(folder), 'drive.json'),
    tidy: isAsStored(place, id, folder),
  }
}

/** What earlier versions did not keep in the summary: the kit, and the ids of the findings. */
function completed(summary: DriveSummary, folder: string): DriveSummary {
  if (summary.found !== undefined && summary.kit !== undefined) return summary
  const { kit } = (jsonOrNull(join(folder, 'vehicle.json')) ?? {}) as Vehicle
  const { findings } = (jsonOrNull(join(folder, 'review.json')) ?? {}) as Partial<Review>
  const found = (Array.isArray(findings) ? findings : []).map(
    ({ severity, id, kind, subject }) => `${severity} ${id ?? findingId(kind, subject)}`,
  )
  return { ...summary, kit: typeof kit === 'string' ? kit : null, found }
}

/**
 * Reads from the reading that counts; again where another program replaced it meanwhile. undefined: no such drive.
 * @param read gives null where it found nothing
 */
function reading<T>(place: Place, id: string, read: (folder: string) => T | null): T | null | undefined {
  for (let tries = 0; ; tries++) {
    const folder = currentFolder(place, id)
    if (folder === null) return undefined
    const found = read(folder)
    if (tries >= 20 || currentFolder(place, id) === folder) return found
  }
}

/** The car's stored drives, newest first, but for the one named and those of the review's own logs. */
export function otherDrivesOf(
  place: Place,
  car: string | undefined,
  review: Review,
  notId: string | undefined,
): DriveSummary[] {
  if (!car) return []
  const own = new Set(review.drive.files.map(({ sha256 }) => sha256))
  return drivesIn(place).filter(
    (each) => each.car === car && each.id !== notId && !each.files.some(({ sha256 }) => own.has(sha256)),
  )
}

/** @throws LogError where there is no such drive, or it cannot be shown */
export function showDrive(place: Place, id: string): ShownDrive {
  const shown = reading(place, id, (folder) => shownFrom(place, id, folder))
  if (shown) return shown
  if (shown === undefined) throw new LogError('no-such-drive', 'There is no stored drive with this id.')
  throw cannotShow(reading(place, id, (folder) => jsonOrNull(join(folder, 'drive.json'))))
}

function shownFrom(place: Place, id: string, dir: string): ShownDrive | null {
  const parsed = storedDriveSchema.safeParse(jsonOrNull(join(dir, 'drive.json')))
  if (!parsed.success) return null
  const troubles: string[] = []
  const notes = readNotes(place, id)
  if (notes.lost) troubles.push('The notes of this drive are lost.')
  const summary =
    notes.title === undefined ? parsed.data.summary : { ...parsed.data.summary, title: notes.title }
  const stored = { ...parsed.data, summary }
  const part = <T>(name: string, schema: { parse(value: unknown): T }, lost: string): T => {
    try {
      return schema.parse(jsonOrNull(join(dir, name)))
    } catch {
      troubles.push(lost)
      return schema.parse({})
    }
  }
  const vehicle = part(
    'vehicle.json',
    vehicleSchema,
    'The vehicle file of this drive is lost: give it again before reviewing again.',
  )
  const corrections = part('corrections.json', correctionsSchema, 'The corrections of this drive are lost.')
  const review = storedReview(dir, stored, vehicle, troubles)
  if (review === null) return null
  return {
    stored,
    review,
    vehicle,
    corrections,
    notes: notes.notes,
    troubles,
    logs: stored.logs.map(({ name }, at) => ({ name, path: join(dir, 'logs', String(at + 1)) })),
    signals: stored.signals ? join(dir, stored.signals) : undefined,
    map: stored.has_map ? join(dir, 'map.json') : undefined,
    offsets: stored.offsets ?? [],
  }
}

/** The review as stored; where that is lost, made again from the samples. null where those are lost too. */
function storedReview(dir: string, stored: StoredDrive, vehicle: Vehicle, troubles: string[]): Review | null {
  const json = jsonOrNull(join(dir, 'review.json'))
  try {
    return openReview(json)
  } catch {}
  try {
    const again = reviewDrive(driveFrom(dir, stored.frame), vehicle)
    troubles.push('The stored review could not be read; it was made again from the samples.')
    return again
  } catch {
    return null
  }
}

/** The samples of a stored drive, for reading slices. Close it. @throws LogError where they are damaged */
export function openChannels(place: Place, id: string): ChannelReader {
  return whole(reading(place, id, (folder) => orNull(() => new ChannelReader(folder))))
}

/** A stored drive as the analyses take it, without parsing its logs again. @throws LogError where it is damaged */
export function loadDrive(place: Place, id: string): Drive {
  const { frame } = showDrive(place, id).stored
  return whole(reading(place, id, (folder) => orNull(() => driveFrom(folder, frame))))
}

function orNull<T>(make: () => T): T | null {
  try {
    return make()
  } catch {
    return null
  }
}

function whole<T>(found: T | null | undefined): T {
  if (found === undefined) throw new LogError('no-such-drive', 'There is no stored drive with this id.')
  if (found === null)
    throw new LogError(
      'damaged-drive',
      'The samples of this drive are damaged or missing. Review it again: they are made from its logs.',
    )
  return found
}

function driveFrom(dir: string, frame: DriveFrame): Drive {
  const reader = new ChannelReader(dir)
  try {
    const bases = new Map<number, Float64Array>()
    const channels = reader.header.channels.map((each) => {
      const channel = reader.channel(each.id)
      const timeS = bases.get(each.base) ?? channel.timeS
      bases.set(each.base, timeS)
      return [each.id, { ...channel, timeS }] as const
    })
    return { ...frame, channels: new Map(channels), spares: [] }
  } finally {
    reader.close()
  }
}

export function removeDrive(place: Place, id: string): void {
  onDisk('The drive could not be removed', () => removeGenerations(place, id))
}

/** Writes a person's notes, and a new title where given. */
export function annotateDrive(place: Place, id: string, notes: string, title?: string): void {
  existingDir(place, id)
  writeNotes(place, id, notes, title)
}

/**
 * Copies a stored drive's originals into a new folder: the logs under their own names, vehicle file, signal table,
 * name map and review. `aftermile review` reads them again from there. Gives the paths written.
 */
export function exportDrive(place: Place, id: string, targetDir: string): string[] {
  const dir = existingDir(place, id)
  if (existsSync(targetDir) && readdirSync(targetDir).length > 0)
    throw new LogError(
      'target-not-empty',
      `${targetDir}: is not empty; an export wants a new or empty folder.`,
    )
  mkdirSync(targetDir, { recursive: true })
  const written: string[] = []
  const copy = (from: string, name: string) => {
    let free = name
    for (let n = 2; written.includes(join(targetDir, free)); n++) free = `${n}-${name}`
    copyFileSync(from, join(targetDir, free))
    written.push(join(targetDir, free))
  }
  for (const log of savedLogs(place, id)) copy(log.path, plainName(log.name))
  for (const name of ['vehicle.json', 'review.json', 'signals.json', 'signals.csv', 'map.json'])
    if (existsSync(join(dir, name))) copy(join(dir, name), name)
  const notes = join(driveDir(place, id), 'notes.json')
  if (existsSync(notes)) copy(notes, 'notes.json')
  return written
}

/** A log's own name, fit for a file: no folders, no control characters, no leading dot. */
export function plainName(name: string): string {
  const last = basename(name.replaceAll('\\', '/'))
  // biome-ignore lint/suspicious/noControlCharactersInRegex: those are what is taken out
  const plain = last.replace(/[\u0000-\u001f<>:"|?*]/g, '_').replace(/^\.+/, '_')
  return plain === '' ? 'log' : plain
}

/** The folder of the reading that counts. */
function existingDir(place: Place, id: string): string {
  const dir = currentFolder(place, id)
  if (dir === null) throw new LogError('no-such-drive', 'There is no stored drive with this id.')
  return dir
}
