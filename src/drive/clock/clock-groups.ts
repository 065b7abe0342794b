import type { Drive } from '../../../shared/drive.ts'
import { NOT_ALIGNED } from './align-logs.ts'

/**
 * The parts of a drive whose channels may be compared with each other: all logs on the drive's clock, and each log that
 * could not be put on it by itself. One part, the drive as it is, where every log found its place.
 * The part that holds the pack voltage comes first. Segments are the drive's own: whoever needs a part's finds them anew.
 */
export function clockGroups(drive: Drive): Drive[] {
  const apart = drive.files.filter((file) => file.clock.found_from.startsWith(NOT_ALIGNED))
  if (apart.length === 0) return [drive]
  const alone = new Set(apart.map((file) => file.name))
  const parts = [part(drive, (file) => !alone.has(file))]
  for (const file of apart) parts.push(part(drive, (name) => name === file.name))
  const hasPack = (each: Drive): number => (each.channels.has('pack_voltage') ? 0 : 1)
  return parts.sort((a, b) => hasPack(a) - hasPack(b))
}

function part(drive: Drive, holds: (file: string) => boolean): Drive {
  return {
    ...drive,
    files: drive.files.filter((file) => holds(file.name)),
    channels: new Map([...drive.channels].filter(([, channel]) => holds(channel.file))),
    spares: drive.spares.filter((spare) => holds(spare.file)),
    reports: drive.reports.filter((report) => holds(report.from.slice(0, report.from.indexOf(': ')))),
    buses: drive.buses.filter((bus) => holds(bus.file)),
    assumptions: [],
  }
}
