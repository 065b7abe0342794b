import { copyFileSync, mkdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Corrections, DriveSummary } from '../../shared/api.ts'
import type { Drive } from '../../shared/drive.ts'
import type { Review } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { newId } from './ids.ts'
import { driveDir, type Place, swapIn } from './place.ts'
import { storeChannels } from './store-channels.ts'
import { type StoredDrive, summarise } from './stored-drive.ts'

/** A log as it lies on disk, and the name by which people know it. */
export interface LogFile {
  readonly path: string
  readonly name: string
}

export interface DriveToSave {
  readonly drive: Drive
  readonly review: Review
  readonly logs: readonly LogFile[]
  readonly vehicle: Vehicle
  /** Path of the signal table, of the name map. */
  readonly signals?: string | undefined
  readonly map?: string | undefined
  readonly corrections?: Corrections
  /** Seconds given for the second, third … log (`--offset`); kept, so that a new review puts them there again. */
  readonly offsets?: readonly (number | null)[] | undefined
  readonly title?: string | undefined
  readonly notes?: string
  /** Replaces this stored drive; a new one is made without it. */
  readonly id?: string | undefined
  readonly addedAt?: string | undefined
}

/** Stores a drive: all of it is written aside, then renamed into place. */
export function storeDrive(place: Place, save: DriveToSave): DriveSummary {
  const id = save.id ?? newId()
  const target = driveDir(place, id)
  const aside = `${target}.aside`
  rmSync(aside, { recursive: true, force: true })
  mkdirSync(join(aside, 'logs'), { recursive: true })
  try {
    save.logs.forEach((log, at) => {
      copyFileSync(log.path, join(aside, 'logs', String(at + 1)))
    })
    const signals = save.signals === undefined ? null : signalsName(save.signals)
    if (save.signals !== undefined && signals) copyFileSync(save.signals, join(aside, signals))
    if (save.map !== undefined) copyFileSync(save.map, join(aside, 'map.json'))
    storeChannels(aside, save.drive)
    const { channels: _, spares: __, ...frame } = save.drive
    const car = save.vehicle.name ?? null
    const title = save.title ?? defaultTitle(save, car)
    const stored: StoredDrive = {
      version: 1,
      summary: summarise(id, title, car, save.addedAt ?? new Date().toISOString(), save.review),
      logs: save.logs.map(({ path, name }) => ({ name, bytes: statSync(path).size })),
      signals,
      has_map: save.map !== undefined,
      offsets: [...(save.offsets ?? [])],
      frame,
    }
    const write = (name: string, value: unknown) =>
      writeFileSync(join(aside, name), `${JSON.stringify(value, null, 1)}\n`)
    write('review.json', save.review)
    write('vehicle.json', save.vehicle)
    write('corrections.json', save.corrections ?? {})
    write('notes.json', { notes: save.notes ?? '' })
    write('drive.json', stored)
    swapIn(aside, target)
    return stored.summary
  } catch (error) {
    rmSync(aside, { recursive: true, force: true })
    throw error
  }
}

/** A signal table is JSON or CSV; its first character tells. */
function signalsName(path: string): 'signals.json' | 'signals.csv' {
  return /^\uFEFF?\s*[{[]/.test(readFileSync(path, 'utf8').slice(0, 200)) ? 'signals.json' : 'signals.csv'
}

function defaultTitle({ logs, review }: DriveToSave, car: string | null): string {
  const day = review.drive.started_at?.slice(0, 10)
  const name = car ?? logs[0]?.name.replace(/\.(csv|txt|log|pcap|pcapng)?(\.gz)?$/i, '') ?? 'Drive'
  return day ? `${name}, ${day}` : name
}
