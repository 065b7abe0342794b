import { catalogueEntry } from '../../shared/channels.ts'
import type { Drive } from '../../shared/drive.ts'
import type { RawLog, RawSeries } from '../../shared/raw-log.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { buildDrive } from '../../src/drive/build-drive.ts'
import type { Samples } from './measure.ts'

/**
 * Measured samples → a drive in normal form, as a perfect import would give it: true clock, right names, held rows
 * known. All boxes are one log, so that no clock has to be found; everything after that is the program's own
 * (what cannot be believed, sign of the current, polarity, gaps, segments).
 */
export function asDrive(samples: readonly Samples[], vehicle: Vehicle): Drive {
  const series = new Map<Float64Array, Float64Array>()
  const own = (timeS: Float64Array): Float64Array => {
    let copy = series.get(timeS)
    if (!copy) series.set(timeS, (copy = timeS.slice()))
    return copy
  }
  const log: RawLog = {
    name: 'simulated',
    sha256: '0'.repeat(64),
    layout: 'simulated',
    rows: 0,
    skipped: [],
    series: samples.map(
      (each): RawSeries => ({
        name: each.id,
        unit: catalogueEntry(each.id)?.unit ?? null,
        channel: catalogueEntry(each.id) ? each.id : null,
        timeS: own(each.timeS),
        values: each.values.slice(),
        fresh: each.fresh,
        labels: null,
        node: each.reading.node ?? null,
      }),
    ),
    startedAt: null,
    fingerprint: 'simulated',
    bus: null,
    events: [],
    clockSteps: [],
  }
  return buildDrive([log], { vehicle })
}
