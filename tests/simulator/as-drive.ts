import { catalogueEntry } from '../../shared/channels.ts'
import type { Channel, Drive, DriveFile } from '../../shared/drive.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { conditionDrive } from '../../src/drive/condition.ts'
import type { Samples } from './measure.ts'

/**
 * Measured samples → a drive in normal form, as a perfect import would give it: true clock, right names. Where two
 * boxes read a channel, the one with more samples is the channel, the other a spare. The import's last step (sign of
 * the current, polarity, segments) is the program's own.
 */
export function asDrive(samples: readonly Samples[], durationS: number, vehicle: Vehicle): Drive {
  const channels = new Map<string, Channel>()
  const spares: Channel[] = []
  const files = new Map<string, DriveFile>()
  for (const each of samples) {
    const file = `${each.box.name}.csv`
    if (!files.has(file)) files.set(file, asFile(file))
    const entry = catalogueEntry(each.id)
    const channel: Channel = {
      id: each.id,
      unit: entry?.unit ?? '',
      timeS: each.timeS,
      values: each.values,
      fresh: each.fresh,
      labels: null,
      file,
      from: each.id,
      step: each.reading.step ?? (entry?.kind === 'number' ? 0 : 1),
      polarity: entry?.kind === 'switch' ? 'as-named' : null,
    }
    const other = channels.get(each.id)
    if (!other) channels.set(each.id, channel)
    else if (other.timeS.length >= channel.timeS.length) spares.push(channel)
    else {
      spares.push(other)
      channels.set(each.id, channel)
    }
  }
  const reports = [...channels.values()].map((channel) => ({
    id: channel.id,
    from: `${channel.file}: ${channel.from}`,
    unit_in: channel.unit,
    conversion: 'none',
    samples: channel.timeS.length,
    rate_hz:
      channel.timeS.length > 1
        ? (channel.timeS.length - 1) / (channel.timeS[channel.timeS.length - 1]! - channel.timeS[0]!)
        : null,
    gaps: [],
    sureness: 1,
    why: 'named by the simulator',
  }))
  return conditionDrive(
    {
      files: [...files.values()],
      startedAt: null,
      durationS,
      channels,
      spares,
      reports,
      segments: [],
      buses: [],
      events: [],
      assumptions: [],
    },
    vehicle,
  )
}

function asFile(name: string): DriveFile {
  return {
    name,
    sha256: '0'.repeat(64),
    layout: 'simulated',
    rows: 0,
    skipped: [],
    clock: { offset_s: 0, drift_ppm: 0, plus_minus_s: 0, found_from: 'the simulator', steps: [] },
  }
}
