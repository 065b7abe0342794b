import { createHash } from 'node:crypto'
import { join } from 'node:path'
import { LogError } from '../errors.ts'
import { isId } from './ids.ts'

/**
 * Where stored drives live. Every path inside is made here from generated ids and numbers, never from a request.
 *
 *     DATA/drives/<id>/current    which reading counts: see `generations.ts`
 *                      notes.json a person's notes and title
 *                      g-…/       drive.json review.json vehicle.json corrections.json
 *                                 logs/1 logs/2 …        the original files, byte for byte
 *                                 time/1.f64 …           time bases, shared by channels
 *                                 values/1.f32|.f64 …    samples
 *                                 pyramid/1.f32 …        lowest and highest a block
 *     DATA/corrections/<hash of the columns' names>.json
 *     DATA/cars/<hash of the car's name>/
 *                 record.json  what became of its findings, readings, maps, vehicle files, notes
 *                 files/1 …    photos and files, as they came
 *     DATA/incoming/<id>/ uploads under way
 *     DATA/lock           held by who changes a pointer
 */
export interface Place {
  readonly dataDir: string
}

export function drivesDir(place: Place): string {
  return join(place.dataDir, 'drives')
}

/** Folder of a drive. @throws LogError for anything that is not one of our ids. */
export function driveDir(place: Place, id: string): string {
  if (!isId(id)) throw new LogError('no-such-drive', 'There is no stored drive with this id.')
  return join(drivesDir(place), id)
}

export const carsDir = (place: Place): string => join(place.dataDir, 'cars')

/** Folder of a car's record: named by a hash, since a car may be called anything. */
export function carDir(place: Place, car: string): string {
  return join(carsDir(place), createHash('sha256').update(car.trim()).digest('hex').slice(0, 32))
}

export function incomingDir(place: Place, id: string): string {
  if (!isId(id)) throw new LogError('no-such-import', 'There is no import with this id.')
  return join(place.dataDir, 'incoming', id)
}
