import type { RegenMap, Review } from '../../shared/review.ts'
import type { XyLine } from '../chart/xy-chart.tsx'

/** A map that a person sets or a file gives, as a line over pressure: lift-off, then rising from start to full, then level. */
export function mapLine(
  label: string,
  start: number | null,
  full: number | null,
  /** Most slowing torque in all, N·m. */
  total: number | null,
  upTo: number,
  lift = 0,
): XyLine | null {
  if (start === null || full === null || total === null) return null
  return {
    label,
    points: [
      [0, lift],
      [start, lift],
      [full, total],
      [Math.max(full, upTo), total],
    ],
  }
}

/** The map of the drive as the model gives it: nothing beyond what was seen. */
export function drivenLine(regen: NonNullable<Review['regen']>): XyLine | null {
  if (regen.curve.length < 2) return null
  return { label: 'map of this drive, above the fade', points: regen.curve.map(([bar, nm]) => [bar, nm]) }
}

/** The map that the sliders begin with: as driven, held to the torque that the drive reached. */
export function drivenMap(regen: NonNullable<Review['regen']>): RegenMap | null {
  return regen.replays[0]?.map ?? null
}
