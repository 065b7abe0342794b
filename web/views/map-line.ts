import type { RegenMap, Review } from '../../shared/review.ts'
import type { XyLine } from '../chart/xy-chart.tsx'

/** A regeneration map as a line over pressure: what lifting off gives, then rising from start to full, then level. */
export function mapLine(
  label: string,
  start: number | null,
  full: number | null,
  most: number | null,
  upTo: number,
  lift = 0,
): XyLine | null {
  if (start === null || full === null || most === null) return null
  return {
    label,
    points: [
      [0, lift],
      [start, lift],
      [full, lift + most],
      [Math.max(full, upTo), lift + most],
    ],
  }
}

/**
 * The map that the drive was driven with, held to the torque that it reached: where the ceiling is only a bound, the
 * fitted slope ends at that bound, for nothing above it was shown.
 */
export function drivenMap(regen: NonNullable<Review['regen']>): RegenMap | null {
  const fitted = regen.replays[0]?.map
  const { start_bar, full_bar, max_nm, fade_kmh } = regen
  if (!fitted)
    return start_bar === null || full_bar === null || max_nm === null
      ? null
      : { start_bar, full_bar, max_nm, fade_kmh: fade_kmh ?? [0, 1] }
  if (regen.max_nm_bound !== 'at-least' || max_nm === null || max_nm >= fitted.max_nm) return fitted
  const slope = fitted.max_nm / (fitted.full_bar - fitted.start_bar)
  return { ...fitted, max_nm, full_bar: fitted.start_bar + max_nm / slope }
}
