import type { Review } from '../../shared/review.ts'
import { extremes } from '../math/stats.ts'
import { packCurrent } from '../models/pack-current.ts'
import { channel, type Facts } from './analysis.ts'

const finite = (value: number): number | null => (Number.isFinite(value) ? value : null)

/** Distance by the trapezium rule over the speed channel, km; null without one. Blind across gaps over 5 s. */
export function distanceKm(facts: Facts): number | null {
  const speed = channel(facts, 'speed')
  if (!speed) return null
  let km = 0
  for (let i = 1; i < speed.timeS.length; i++) {
    const dt = speed.timeS[i]! - speed.timeS[i - 1]!
    const sum = Math.abs(speed.values[i]!) + Math.abs(speed.values[i - 1]!)
    if (dt <= 5 && Number.isFinite(sum)) km += (sum / 2 / 3600) * dt
  }
  return km
}

/** The head of the review: files, segments, length and peaks. */
export function summariseDrive(facts: Facts): Review['drive'] {
  const { drive } = facts
  const current = facts.once(packCurrent)
  const amperes = extremes(current?.amperes ?? [])
  const of = (id: string): { low: number; high: number } => extremes(channel(facts, id)?.values ?? [])
  let lowest = Number.POSITIVE_INFINITY
  let highest = Number.NEGATIVE_INFINITY
  let hottest = Number.NEGATIVE_INFINITY
  for (const each of drive.channels.values()) {
    const { low, high } = each.id.startsWith('cell_voltage.')
      ? extremes(each.values)
      : { low: Number.NaN, high: Number.NaN }
    if (low < lowest) lowest = low
    if (high > highest) highest = high
    if (each.id.startsWith('module_temperature.')) hottest = Math.max(hottest, extremes(each.values).high)
  }
  return {
    files: drive.files.map((file) => ({
      ...file,
      skipped: file.skipped.map((each) => ({ ...each })),
      clock: { ...file.clock, steps: file.clock.steps.map((step) => ({ ...step })) },
    })),
    segments: drive.segments.map((segment) => ({ ...segment, span_s: [...segment.span_s] })),
    started_at: drive.startedAt,
    duration_s: drive.durationS,
    distance_km: distanceKm(facts),
    peak: {
      current_a: finite(amperes.high),
      charge_current_a: finite(-amperes.low),
      rms_current_a: null,
      power_w: null,
      speed_kmh: finite(of('speed').high),
      lowest_cell_v: finite(lowest),
      highest_cell_v: finite(highest),
      hottest_c: finite(hottest),
      sag_v: null,
    },
  }
}
