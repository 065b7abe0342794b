import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Place } from '../../src/library/place.ts'
import { storeDrive } from '../../src/library/store-drive.ts'
import { reviewDrive } from '../../src/review/review.ts'
import type { Fault } from '../simulator/faults.ts'
import { simulate } from '../simulator/simulate.ts'

/** One drive of a simulated car (seed 31: always the same cells) on a day, stored. Gives its id and review. */
export function keptDrive(place: Place, faults: readonly Fault[], startedAt: string, startC = 15) {
  const made = simulate({
    seed: 31,
    faults,
    car: {
      name: 'Juniper',
      pack: { cellsPerModule: [12, 12] },
      heat: { startC, ambientC: startC - 2 },
    },
    route: { kind: startC > 18 ? 'urban' : 'mixed', durationS: 180 },
  })
  const clock = { offset_s: 0, drift_ppm: 0, plus_minus_s: 0, found_from: 'one log', steps: [] }
  const files = [{ name: 'a.csv', sha256: startedAt, layout: 'wide CSV', rows: 2400, skipped: [], clock }]
  const drive = { ...made.drive, files, startedAt }
  const vehicle = { ...made.vehicle, kit: 'Hedge' }
  const review = reviewDrive(drive, vehicle)
  const log = join(place.dataDir, 'a.csv')
  writeFileSync(log, 'time,current\n0,1\n')
  const { id } = storeDrive(place, { drive, review, logs: [{ path: log, name: 'a.csv' }], vehicle })
  return { id, review, vehicle }
}
