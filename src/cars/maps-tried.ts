import type { MapOutcome } from '../../shared/map-outcome.ts'
import { type DriveOfMap, mapOutcome } from '../library/map-outcome.ts'
import { type CarDrive, type CarFile, momentOf } from './open-car.ts'

/** Every map that was set in the car, the oldest first, each against the first drive with regeneration after it. */
export function mapsTried(file: CarFile): MapOutcome[] {
  const tried = [...file.record.maps].sort((a, b) => Date.parse(a.at) - Date.parse(b.at))
  return tried.map((each, k) => {
    const set = file.drives.findIndex(({ summary }) => summary.id === each.drive)
    // the drive that was the last when the map was set lies before it, whatever the clocks say
    const isAfter = (drive: CarDrive, at: number): boolean =>
      set >= 0 ? at > set : momentOf(drive.summary) > Date.parse(each.at)
    const next = tried[k + 1]
    const until = next ? file.drives.findIndex(({ summary }) => summary.id === next.drive) : -1
    const after = file.drives.findIndex(
      (drive, at) => isAfter(drive, at) && drive.review.regen !== null && (until < 0 || at <= until),
    )
    const before = file.drives.findLast((drive, at) => !isAfter(drive, at) && drive.review.regen !== null)
    return mapOutcome(each, of(before), of(file.drives[after]))
  })
}

const of = (drive: CarDrive | undefined): DriveOfMap | null =>
  drive ? { id: drive.summary.id, title: drive.summary.title, review: drive.review } : null
