import { copyFileSync, existsSync, mkdirSync, readdirSync, readFileSync, rmSync } from 'node:fs'
import { basename, join } from 'node:path'
import { type Corrections, correctionsSchema, type DriveSummary } from '../../shared/api.ts'
import type { Drive } from '../../shared/drive.ts'
import type { Review } from '../../shared/review.ts'
import { type Vehicle, vehicleSchema } from '../../shared/vehicle.ts'
import { LogError } from '../errors.ts'
import { isId } from './ids.ts'
import { driveDir, drivesDir, type Place, writeAside } from './place.ts'
import { ChannelReader } from './read-channels.ts'
import type { LogFile } from './store-drive.ts'
import { type StoredDrive, storedDriveSchema } from './stored-drive.ts'
import { openReview } from './stored-review.ts'

/** What is stored of one drive, but for its samples. */
export interface ShownDrive {
  readonly stored: StoredDrive
  readonly review: Review
  readonly vehicle: Vehicle
  readonly corrections: Corrections
  readonly notes: string
  readonly logs: readonly LogFile[]
  readonly signals: string | undefined
  readonly map: string | undefined
  readonly offsets: readonly (number | null)[]
}

const readJson = (path: string): unknown => JSON.parse(readFileSync(path, 'utf8'))

/** All stored drives, the newest first. A folder that cannot be read is left out. */
export function drivesIn(place: Place): DriveSummary[] {
  const found: DriveSummary[] = []
  for (const id of readdirSync(drivesDir(place)).filter(isId).sort().reverse()) {
    try {
      found.push(storedDriveSchema.parse(readJson(join(drivesDir(place), id, 'drive.json'))).summary)
    } catch {}
  }
  return found
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

/** @throws LogError where there is no such drive. */
export function showDrive(place: Place, id: string): ShownDrive {
  const dir = existingDir(place, id)
  const stored = storedDriveSchema.parse(readJson(join(dir, 'drive.json')))
  const notes = readJson(join(dir, 'notes.json')) as { notes: string }
  return {
    stored,
    review: openReview(readJson(join(dir, 'review.json'))),
    vehicle: vehicleSchema.parse(readJson(join(dir, 'vehicle.json'))),
    corrections: correctionsSchema.parse(readJson(join(dir, 'corrections.json'))),
    notes: notes.notes,
    logs: stored.logs.map(({ name }, at) => ({ name, path: join(dir, 'logs', String(at + 1)) })),
    signals: stored.signals ? join(dir, stored.signals) : undefined,
    map: stored.has_map ? join(dir, 'map.json') : undefined,
    offsets: stored.offsets ?? [],
  }
}

/** The samples of a stored drive, for reading slices. Close it. */
export function openChannels(place: Place, id: string): ChannelReader {
  return new ChannelReader(existingDir(place, id))
}

/** A stored drive as the analyses take it, without parsing its logs again. */
export function loadDrive(place: Place, id: string): Drive {
  const { stored } = showDrive(place, id)
  const reader = openChannels(place, id)
  try {
    const bases = new Map<number, Float64Array>()
    const channels = reader.header.channels.map((each) => {
      const channel = reader.channel(each.id)
      const timeS = bases.get(each.base) ?? channel.timeS
      bases.set(each.base, timeS)
      return [each.id, { ...channel, timeS }] as const
    })
    return { ...stored.frame, channels: new Map(channels), spares: [] }
  } finally {
    reader.close()
  }
}

export function removeDrive(place: Place, id: string): void {
  rmSync(existingDir(place, id), { recursive: true, force: true })
}

/** Writes a person's notes, and a new title where given. */
export function annotateDrive(place: Place, id: string, notes: string, title?: string): void {
  const dir = existingDir(place, id)
  writeAside(join(dir, 'notes.json'), `${JSON.stringify({ notes }, null, 1)}\n`)
  if (title === undefined) return
  const stored = storedDriveSchema.parse(readJson(join(dir, 'drive.json')))
  const renamed = { ...stored, summary: { ...stored.summary, title } }
  writeAside(join(dir, 'drive.json'), `${JSON.stringify(renamed, null, 1)}\n`)
}

/**
 * Copies a stored drive's originals into a new folder: the logs under their own names, vehicle file, signal table,
 * name map and review. `aftermile review` reads them again from there. Gives the paths written.
 */
export function exportDrive(place: Place, id: string, targetDir: string): string[] {
  const shown = showDrive(place, id)
  const dir = driveDir(place, id)
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
  for (const log of shown.logs) copy(log.path, plainName(log.name))
  for (const name of ['vehicle.json', 'review.json', 'notes.json']) copy(join(dir, name), name)
  if (shown.stored.signals) copy(join(dir, shown.stored.signals), shown.stored.signals)
  if (shown.map) copy(shown.map, 'map.json')
  return written
}

/** A log's own name, fit for a file: no folders, no control characters, no leading dot. */
export function plainName(name: string): string {
  const last = basename(name.replaceAll('\\', '/'))
  // biome-ignore lint/suspicious/noControlCharactersInRegex: those are what is taken out
  const plain = last.replace(/[\u0000-\u001f<>:"|?*]/g, '_').replace(/^\.+/, '_')
  return plain === '' ? 'log' : plain
}

function existingDir(place: Place, id: string): string {
  const dir = driveDir(place, id)
  if (!existsSync(join(dir, 'drive.json')))
    throw new LogError('no-such-drive', 'There is no stored drive with this id.')
  return dir
}
