import { catalogueEntry } from '../../shared/channels.ts'
import type { Drive } from '../../shared/drive.ts'
import type { RawLog } from '../../shared/raw-log.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { buildDrive } from '../../src/drive/build-drive.ts'
import type { Samples } from '../simulator/measure.ts'

/** One log of a drive, by what it holds: its name, the channels that it takes, what its own clock says at the start. */
export interface OwnLog {
  readonly name: string
  readonly holds: RegExp
  readonly startsAtS: number
}

/** A simulated drive written as several logs, each on a clock of its own and without dates. */
export function onOwnClocks(samples: readonly Samples[], logs: readonly OwnLog[], vehicle: Vehicle): Drive {
  return buildDrive(
    logs.map(({ name, holds, startsAtS }): RawLog => {
      const bases = new Map<Float64Array, Float64Array>()
      const own = (timeS: Float64Array): Float64Array => {
        const moved = bases.get(timeS) ?? timeS.map((s) => s + startsAtS)
        bases.set(timeS, moved)
        return moved
      }
      return {
        name,
        sha256: '0'.repeat(64),
        layout: 'simulated',
        rows: 0,
        skipped: [],
        series: samples
          .filter(({ id }) => holds.test(id))
          .map((each) => ({
            name: each.id,
            unit: catalogueEntry(each.id)?.unit ?? null,
            channel: each.id,
            timeS: own(each.timeS),
            values: each.values.slice(),
            fresh: each.fresh,
            labels: null,
            node: null,
          })),
        startedAt: null,
        fingerprint: name,
        bus: null,
        events: [],
        clockSteps: [],
      }
    }),
    { vehicle },
  )
}
