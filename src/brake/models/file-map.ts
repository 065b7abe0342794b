import type { Vehicle } from '../../../shared/vehicle.ts'
import type { SlowingMap } from './slowing-map.ts'

/** The vehicle file's map of the brake part; lift-off and how the two join as driven. Null where the file has none. */
export function fileMap({ brake }: Vehicle, driven: SlowingMap): SlowingMap | null {
  const { regen_start_bar: start, regen_full_bar: full, regen_max_nm: max, fade_kmh: fade } = brake ?? {}
  if (start === undefined || full === undefined || max === undefined || !(full > start)) return null
  const own: readonly [number, number] = fade ? [fade[0], fade[1]] : driven.fade
  return { ...driven, start, full, brakeNm: max, fade: own, step: null }
}
