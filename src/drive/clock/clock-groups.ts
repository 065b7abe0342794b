import type { Channel, Drive } from '../../../shared/drive.ts'

/**
 * The parts of a drive whose channels may be compared with each other: all logs on the drive's clock, and those on each
 * clock that could not be put on it. One part, the drive as it is, where every log found its place.
 * The part that holds the pack voltage comes first. Segments are the drive's own: whoever needs a part's finds them anew.
 */
export function clockGroups(drive: Drive): Drive[] {
  const clockOf = new Map(drive.files.map(({ name, clock }) => [name, clock.own ?? null]))
  const clocks = [...new Set(clockOf.values())]
  if (clocks.length <= 1) return [drive]
  const parts = clocks.map((clock) => part(drive, (file) => (clockOf.get(file) ?? null) === clock))
  const hasPack = (each: Drive): number => (each.channels.has('pack_voltage') ? 0 : 1)
  return parts.sort((a, b) => hasPack(a) - hasPack(b))
}

/** What some files of the drive hold; a reading that another file holds better is the channel here. */
function part(drive: Drive, holds: (file: string) => boolean): Drive {
  const channels = new Map([...drive.channels].filter(([, { file }]) => holds(file)))
  const spares: Channel[] = []
  for (const spare of drive.spares)
    if (!holds(spare.file)) continue
    else if (channels.has(spare.id)) spares.push(spare)
    else channels.set(spare.id, spare)
  let durationS = 0
  for (const { timeS } of channels.values()) durationS = Math.max(durationS, timeS.at(-1) ?? 0)
  return {
    ...drive,
    files: drive.files.filter((file) => holds(file.name)),
    durationS,
    channels,
    spares,
    reports: drive.reports.filter((report) => holds(report.from.slice(0, report.from.indexOf(': ')))),
    buses: drive.buses.filter((bus) => holds(bus.file)),
    ...(drive.doubts ? { doubts: drive.doubts.filter((doubt) => holds(doubt.file)) } : {}),
    assumptions: [],
  }
}
