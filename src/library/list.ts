import type { DriveSummary } from '../../shared/api.ts'
import { drivesIn } from './library.ts'
import { openPlace } from './place.ts'

/** All stored drives of a data directory (the usual one without a name), the newest first. */
export async function listDrives(dataDir?: string): Promise<DriveSummary[]> {
  return drivesIn(openPlace(dataDir))
}
