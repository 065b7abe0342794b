import { copyFileSync, existsSync, mkdirSync, readFileSync, statSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Corrections, DriveSummary } from '../../shared/api.ts'
import type { Drive } from '../../shared/drive.ts'
import type { Review } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { LogError } from '../errors.ts'
import { onDisk, step, writeAside } from './durable.ts'
import { storeGeneration } from './generations.ts'
import { newId } from './ids.ts'
import type { LogFile } from './log-file.ts'
import { readNotes } from './notes.ts'
import { driveDir, type Place } from './paths.ts'
import { keepVehicle } from './record/vehicle-history.ts'
import { storeChannels } from './store-channels.ts'
import { type StoredDrive, summarise } from './stored-drive.ts'

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

/** Stores a drive as a new reading: whole on the disk before it counts. What fails leaves what was stored before. */
export function storeDrive(place: Place, save: DriveToSave): DriveSummary {
  const id = save.id ?? newId()
  const summary = onDisk('The drive could not be stored', () =>
    storeGeneration(place, id, (folder) => {
      const stored = fill(folder, save, id)
      const notes = join(driveDir(place, id), 'notes.json')
      // A person's words outlive every new reading: written once, with a new drive, or where they are given anew.
      if (!existsSync(notes) || save.notes !== undefined)
        writeAside(notes, `${JSON.stringify({ notes: save.notes ?? readNotes(place, id).notes }, null, 1)}\n`)
      return stored.summary
    }),
  )
  try {
    keepVehicle(place, save.vehicle, id)
  } catch (error) {
    // The drive is stored, its vehicle file with it: a record that cannot be read or written takes nothing from it.
    if (!(error instanceof LogError)) throw error
  }
  return summary
}

function fill(folder: string, save: DriveToSave, id: string): StoredDrive {
  mkdirSync(join(folder, 'logs'))
  save.logs.forEach((log, at) => {
    copyFileSync(log.path, join(folder, 'logs', String(at + 1)))
  })
  step('logs-copied')
  const signals = save.signals === undefined ? null : signalsName(save.signals)
  if (save.signals !== undefined && signals) copyFileSync(save.signals, join(folder, signals))
  if (save.map !== undefined) copyFileSync(save.map, join(folder, 'map.json'))
  storeChannels(folder, save.drive)
  step('channels-written')
  const { channels: _, spares: __, vehicle: ___, ...frame } = save.drive
  const car = save.vehicle.name ?? null
  const title = save.title ?? defaultTitle(save, car)
  const stored: StoredDrive = {
    version: 1,
    summary: summarise(
      id,
      title,
      car,
      save.addedAt ?? new Date().toISOString(),
      save.review,
      save.vehicle.kit ?? null,
    ),
    logs: save.logs.map(({ path, name }) => ({ name, bytes: statSync(path).size })),
    signals,
    has_map: save.map !== undefined,
    offsets: [...(save.offsets ?? [])],
    frame,
  }
  const write = (name: string, value: unknown) =>
    writeFileSync(join(folder, name), `${JSON.stringify(value, null, 1)}\n`)
  write('review.json', save.review)
  write('vehicle.json', save.vehicle)
  write('corrections.json', save.corrections ?? {})
  write('drive.json', stored)
  return stored
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
