import { createHash } from 'node:crypto'
import type { CarRecord } from '../../../shared/car-record.ts'
import type { Vehicle } from '../../../shared/vehicle.ts'
import type { Place } from '../paths.ts'
import { changeRecord, readRecord } from './car-record.ts'

/** Keeps the vehicle file with the car where it is not the one kept last; a car without a name has no record. */
export function keepVehicle(place: Place, vehicle: Vehicle, drive: string): void {
  const car = vehicle.name?.trim()
  if (!car || isKept(readRecord(place, car), vehicle)) return
  changeRecord(place, car, (record) =>
    isKept(record, vehicle)
      ? null
      : {
          ...record,
          vehicles: [...record.vehicles, { at: new Date().toISOString(), drive, vehicle: { ...vehicle } }],
        },
  )
}

const isKept = ({ vehicles }: CarRecord, vehicle: Vehicle): boolean =>
  vehicles.length > 0 && fingerprint(vehicles.at(-1)!.vehicle) === fingerprint(vehicle)

/** The same file whatever the order of its fields. */
function fingerprint(value: unknown): string {
  const sorted = JSON.stringify(value, (_, each: unknown) =>
    each !== null && typeof each === 'object' && !Array.isArray(each)
      ? Object.fromEntries(Object.entries(each).sort(([a], [b]) => (a < b ? -1 : 1)))
      : each,
  )
  return createHash('sha256').update(sorted).digest('hex')
}
