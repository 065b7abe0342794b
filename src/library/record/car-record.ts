import { existsSync, mkdirSync, readdirSync, readFileSync, renameSync } from 'node:fs'
import { join } from 'node:path'
import { type CarRecord, carRecordSchema, emptyRecord, RECORD_VERSION } from '../../../shared/car-record.ts'
import { LogError } from '../../errors.ts'
import { jsonOrNull } from '../damaged.ts'
import { OWN_FOLDER, onDisk, step, syncFolder, writeAside } from '../durable.ts'
import { withLock } from '../lock.ts'
import { carDir, carsDir, type Place } from '../paths.ts'

/** A car's record as stored; an empty one where there is none. @throws LogError where it is damaged or newer */
export function readRecord(place: Place, car: string): CarRecord {
  const path = join(carDir(place, car), 'record.json')
  let text: string
  try {
    text = readFileSync(path, 'utf8')
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return emptyRecord(car)
    throw error
  }
  return opened(text, car)
}

function opened(text: string, car: string): CarRecord {
  let json: unknown
  try {
    json = JSON.parse(text)
  } catch {
    throw damaged(car)
  }
  const { version } = (json ?? {}) as { version?: unknown }
  if (typeof version === 'number' && version > RECORD_VERSION)
    throw new LogError(
      'newer-record',
      `The record of ${car} was written by a newer version of the program (form ${version}, this one knows ${RECORD_VERSION}): update the program.`,
    )
  const read = carRecordSchema.safeParse(json)
  if (!read.success) throw damaged(car)
  return read.data
}

const damaged = (car: string): LogError =>
  new LogError(
    'damaged-record',
    `The record of ${car} is damaged. Nothing was changed in it; its drives and files are untouched.`,
  )

/**
 * Changes a car's record: read, changed and written whole under the library's lock, on the disk when this returns. A
 * record that cannot be read is never written over. Gives the record as it then is.
 */
export function changeRecord(
  place: Place,
  car: string,
  change: (record: CarRecord) => CarRecord | null,
): CarRecord {
  return onDisk('The car’s record could not be written', () =>
    withLock(place.dataDir, () => {
      const before = readRecord(place, car)
      const changed = change(before)
      if (changed === null) return before
      const after = carRecordSchema.parse(changed)
      mkdirSync(carDir(place, car), { recursive: true, mode: OWN_FOLDER })
      syncFolder(carsDir(place))
      writeAside(join(carDir(place, car), 'record.json'), `${JSON.stringify(after, null, 1)}\n`)
      step('record-written')
      return after
    }),
  )
}

/** Names of the cars that have a record, whether they have drives or not. */
export function recordedCars(place: Place): string[] {
  if (!existsSync(carsDir(place))) return []
  return readdirSync(carsDir(place)).flatMap((key) => {
    const record = jsonOrNull(join(carsDir(place), key, 'record.json')) as { car?: unknown } | null
    return typeof record?.car === 'string' ? [record.car] : []
  })
}

/** A damaged record is put aside under another name, so that a new one can begin; nothing of it is thrown away. */
export function putAside(place: Place, car: string): string {
  const folder = carDir(place, car)
  return withLock(place.dataDir, () => {
    let number = 1
    while (existsSync(join(folder, `record-damaged-${number}.json`))) number++
    const kept = `record-damaged-${number}.json`
    renameSync(join(folder, 'record.json'), join(folder, kept))
    syncFolder(folder)
    return kept
  })
}
