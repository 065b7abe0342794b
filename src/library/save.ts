import { basename } from 'node:path'
import type { Drive } from '../../shared/drive.ts'
import type { Review } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { openPlace } from './place.ts'
import { storeDrive } from './store-drive.ts'

/** Keeps a reviewed drive (`aftermile review --save`). Gives its id. */
export async function saveDrive(save: {
  readonly paths: readonly string[]
  readonly drive: Drive
  readonly review: Review
  readonly vehicle: Vehicle
  readonly dataDir?: string | undefined
  readonly signals?: string
  readonly map?: string
  readonly offsets?: readonly number[]
}): Promise<string> {
  const { paths, dataDir, ...rest } = save
  const logs = paths.map((path) => ({ path, name: basename(path) }))
  return storeDrive(openPlace(dataDir), { ...rest, logs }).id
}
