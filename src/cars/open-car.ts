import type { DriveSummary } from '../../shared/api.ts'
import type { CarRecord } from '../../shared/car-record.ts'
import type { Review } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { LogError } from '../errors.ts'
import { drivesIn, showDrive } from '../library/library.ts'
import type { Place } from '../library/place.ts'
import { readRecord, recordedCars } from '../library/record/car-record.ts'

/** A stored drive of a car, as far as its record needs it. */
export interface CarDrive {
  readonly summary: DriveSummary
  readonly review: Review
  readonly vehicle: Vehicle
}

/** Everything that is kept of one car: its drives, the oldest first, and its record. */
export interface CarFile {
  readonly car: string
  readonly kit: string | null
  readonly drives: readonly CarDrive[]
  readonly record: CarRecord
  /** Drives that cannot be read, a sentence each. */
  readonly troubles: readonly string[]
}

/** When a drive was: by its own clock, else when it was stored. */
export const momentOf = ({ started_at, added_at }: DriveSummary): number => Date.parse(started_at ?? added_at)

/** Names of all cars that have a stored drive or a record. */
export function carsIn(place: Place, drives: readonly DriveSummary[] = drivesIn(place)): string[] {
  const named = drives.flatMap(({ car }) => (car?.trim() ? [car.trim()] : []))
  return [...new Set([...named, ...recordedCars(place)])].sort((a, b) => a.localeCompare(b, 'en'))
}

/** @throws LogError where the car has neither a drive nor a record */
export function openCar(place: Place, car: string, all: readonly DriveSummary[] = drivesIn(place)): CarFile {
  const name = car.trim()
  const record = readRecord(place, name)
  const own = all.filter((each) => each.car?.trim() === name).sort((a, b) => momentOf(a) - momentOf(b))
  const known = record.notes.length + record.readings.length + record.findings.length + record.files.length
  if (own.length === 0 && known === 0 && record.vehicles.length === 0)
    throw new LogError('no-such-car', `No car called "${name}" has a stored drive or a record.`)
  const troubles: string[] = []
  const drives = own.flatMap((summary): CarDrive[] => {
    try {
      const { review, vehicle } = showDrive(place, summary.id)
      return [{ summary, review, vehicle }]
    } catch (error) {
      if (!(error instanceof LogError)) throw error
      troubles.push(`${summary.title}: ${error.message}`)
      return []
    }
  })
  return { car: name, kit: drives.at(-1)?.vehicle.kit ?? null, drives, record, troubles }
}
