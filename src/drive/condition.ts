import type { Drive } from '../../shared/drive.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { findSegments } from './segments.ts'

/**
 * Last step of building a drive: sign of the current, polarity of switches, segments. First cut: segments only.
 * Returns a new drive; says in `assumptions` and `reports[].conversion` what it turned round.
 */
export function conditionDrive(drive: Drive, _vehicle: Vehicle): Drive {
  return { ...drive, segments: findSegments(drive.channels, drive.durationS) }
}
