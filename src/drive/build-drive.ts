import { catalogueEntry } from '../../shared/channels.ts'
import type { Channel, ChannelReport, Drive } from '../../shared/drive.ts'
import { UNITS } from '../../shared/units.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import type { RawLog } from '../importers/raw-log.ts'
import { alignLogs } from './align-logs.ts'
import { conditionDrive } from './condition.ts'
import { nameSeries } from './naming.ts'
import { samplePeriod } from './on-one-clock.ts'

export interface BuildOptions {
  readonly vehicle?: Vehicle
  readonly offsets?: readonly number[]
}

/** Logs → drive: names each series, converts units, puts all logs on one clock, conditions. First cut. */
export function buildDrive(logs: readonly RawLog[], options: BuildOptions = {}): Drive {
  const named = logs.map((log) => ({ log, named: nameSeries(log.series) }))
  const clocks = alignLogs(named, options.offsets)
  const channels = new Map<string, Channel>()
  const reports: ChannelReport[] = []
  let durationS = 0
  for (const { log, named: all } of named)
    for (const named of all) {
      const entry = catalogueEntry(named.id)
      const conversion = UNITS[(named.series.unit ?? '').toLowerCase().replaceAll(' ', '')]
      const convert = entry && conversion && conversion.unit === entry.unit ? conversion : null
      const values = convert
        ? named.series.values.map((value) => value * convert.factor + convert.offset)
        : named.series.values
      const { timeS } = named.series
      durationS = Math.max(durationS, timeS[timeS.length - 1] ?? 0)
      if (!channels.has(named.id))
        channels.set(named.id, {
          id: named.id,
          unit: entry?.unit ?? named.series.unit ?? '',
          timeS,
          values,
          fresh: named.series.fresh,
          labels: named.series.labels,
          file: log.name,
          from: named.series.name,
          step: 0,
          polarity: entry?.kind === 'switch' ? 'as-named' : null,
        })
      const period = samplePeriod(timeS)
      reports.push({
        id: named.id,
        from: `${log.name}: ${named.series.name}`,
        unit_in: named.series.unit,
        conversion: convert ? `× ${convert.factor} + ${convert.offset}` : 'none',
        samples: timeS.length,
        rate_hz: period > 0 ? 1 / period : null,
        gaps: [],
        sureness: named.sureness,
        why: named.why,
      })
    }
  const drive: Drive = {
    files: logs.map(({ name, sha256, layout, rows, skipped }, at) => ({
      name,
      sha256,
      layout,
      rows,
      skipped,
      clock: clocks[at]!,
    })),
    startedAt: logs.find((log) => log.startedAt)?.startedAt ?? null,
    durationS,
    channels,
    spares: [],
    reports,
    segments: [],
    buses: [],
    events: [],
    assumptions: [],
  }
  return conditionDrive(drive, options.vehicle ?? {})
}
