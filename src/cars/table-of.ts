import type { Table } from '../../shared/api.ts'
import { siblingsOf } from '../library/beside-earlier.ts'
import type { Place } from '../library/place.ts'
import type { CarFile } from './open-car.ts'
import { type CarTableName, carTable } from './series.ts'

/** A table of the car; for its kit one drive of each other car enters, the one most like its last in warmth. */
export function tableOf(place: Place, file: CarFile, name: CarTableName): Promise<Table> {
  const last = file.drives.at(-1)
  const siblings =
    name === 'kit' && file.kit && last ? siblingsOf(place, file.car, file.kit, last.review) : []
  return carTable(
    file,
    name,
    siblings.map(({ review }) => review),
  )
}
