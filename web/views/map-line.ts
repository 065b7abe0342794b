import type { RegenMap, Review } from '../../shared/review.ts'
import type { XyLine } from '../chart/xy-chart.tsx'

type Regen = NonNullable<Review['regen']>

/** A map as the one model gives it (`src/brake/models/slowing-map.ts`); null where there is nothing to draw. */
export function mapLine(label: string, points: Regen['curve']): XyLine | null {
  return points.length < 2 ? null : { label, points }
}

/** The map that the sliders begin with: as driven, held to the torque that the drive reached. */
export function drivenMap(regen: Regen): RegenMap | null {
  return regen.replays[0]?.map ?? null
}
