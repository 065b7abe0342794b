import type { CarNote, CarRecord, Deed, TriedMap } from '../../shared/car-record.ts'
import type { Reading } from '../../shared/reading.ts'
import { LogError } from '../errors.ts'
import type { Place } from '../library/place.ts'
import { changeRecord } from '../library/record/car-record.ts'
import type { CarFile } from './open-car.ts'

/** Writes what somebody did about a finding. @throws LogError where no drive of the car has it */
export function writeDeed(place: Place, file: CarFile, id: string, deed: Deed): CarRecord {
  const drive = file.drives.findLast(({ review }) => review.findings.some((each) => each.id === id))
  const finding = drive?.review.findings.find((each) => each.id === id)
  const known = file.record.findings.find((each) => each.id === id)
  if (!finding && !known)
    throw new LogError('no-such-finding', `No stored drive of ${file.car} has a finding "${id}".`)
  return changeRecord(place, file.car, (record) => {
    const before = record.findings.find((each) => each.id === id)
    const told = { ...deed, drive: deed.drive ?? drive?.summary.id ?? null }
    const entry = {
      id,
      kind: (finding ?? before)!.kind,
      subject: (finding ?? before)!.subject,
      headline: (finding ?? before)!.headline,
      deeds: [...(before?.deeds ?? []), told],
    }
    return { ...record, findings: [...record.findings.filter((each) => each.id !== id), entry] }
  })
}

export const writeReading = (place: Place, car: string, reading: Reading): CarRecord =>
  changeRecord(place, car, (record) => ({ ...record, readings: [...record.readings, reading] }))

export const writeNote = (place: Place, car: string, note: CarNote): CarRecord =>
  changeRecord(place, car, (record) => ({ ...record, notes: [...record.notes, note] }))

export const writeMap = (place: Place, car: string, tried: TriedMap): CarRecord =>
  changeRecord(place, car, (record) => ({ ...record, maps: [...record.maps, tried] }))
