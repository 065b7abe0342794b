import { type Channel, channelNamed, type Drive } from '../../shared/drive.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { clockGroups } from './clock/clock-groups.ts'
import { Conditioning } from './conditioning.ts'
import { conditionCurrents, conditionSpare } from './current/condition-currents.ts'
import { findSegments } from './segments.ts'
import { conditionSelector, conditionSwitches } from './switches/condition-switches.ts'

/**
 * Last step of building a drive: switches to 0/1 the right way round, the selector to −1/0/1, segments, the battery
 * current's sign (discharge positive). The current's zero stays in: `packCurrent` takes it out.
 * Logs that could not be put on one clock are conditioned each by itself: one proves nothing of the other's moments.
 * Returns a new drive; what was turned round stands in `assumptions` and in `reports[].conversion`.
 */
export function conditionDrive(drive: Drive, _vehicle: Vehicle): Drive {
  const parts = clockGroups(drive).map(conditionPart)
  if (parts.length === 1) return parts[0]!
  const channels = new Map<string, Channel>()
  const spares = parts.flatMap((part) => part.spares)
  for (const each of parts.flatMap((part) => [...part.channels.values()])) {
    const other = channels.get(each.id)
    const chosen = !other || channelNamed(drive.channels, each.id)?.file === each.file
    if (chosen) channels.set(each.id, each)
    if (other) spares.push(chosen ? other : each)
  }
  return {
    ...drive,
    channels,
    spares,
    segments: parts[0]!.segments,
    reports: parts.flatMap((part) => part.reports),
    assumptions: [...drive.assumptions, ...parts.flatMap((part) => part.assumptions)],
  }
}

function conditionPart(drive: Drive): Drive {
  const work = new Conditioning(drive)
  conditionSwitches(work)
  conditionSelector(work)
  const segments = findSegments(work.channels, work.durationS)
  conditionCurrents(work, segments)
  return {
    ...drive,
    channels: work.channels,
    spares: drive.spares.map((spare) => conditionSpare(work, segments, spare)),
    segments,
    reports: work.reports(),
    assumptions: [...drive.assumptions, ...work.assumptions],
  }
}
