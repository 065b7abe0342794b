import type { ClockReport } from '../../shared/drive.ts'
import type { RawLog } from '../importers/raw-log.ts'
import type { Named } from '../naming/name-series.ts'

/**
 * First cut: every log on its own clock. Drive time = own time · (1 + drift_ppm · 10⁻⁶) + offset_s.
 * @param logs with their named series, in program units
 * @param offsets given by the person for the second, third … log
 */
export function alignLogs(
  logs: readonly { readonly log: RawLog; readonly named: readonly Named[] }[],
  _offsets: readonly number[] = [],
): ClockReport[] {
  return logs.map(() => ({
    offset_s: 0,
    drift_ppm: 0,
    plus_minus_s: 0,
    found_from: 'the only log',
    steps: [],
  }))
}
