import { ramp, reachedAt, type SlowingMap, totalNm, withTotal } from './slowing-map.ts'

/** A fade is moved by so much or not at all. */
const STEP_KMH = 0.5
/** Torque is written in half newton metres. */
const STEP_NM = 0.5

/** What candidate maps are made from. */
export interface CandidateSource {
  readonly today: SlowingMap
  /** Was the map's end reached? Else the map stays what it is at the highest press that was seen, and beyond. */
  readonly ended: boolean
  readonly reachedBar: number
  /** Presses at which regeneration might begin instead: where the switch makes, where the pads bite, the file's start. */
  readonly starts: readonly number[]
  readonly usualBar: number
  /** A fade this wide keeps a firm stop without a jerk, km/h; and totals worth a try, N·m. */
  readonly fadeWidthKmh: number
  readonly totals: readonly number[]
}

/** Shares of today's most that are tried. */
const SHARES = [1, 0.9, 0.8, 0.7] as const
/** A ramp is at least so long, bar. */
const SHORTEST_BAR = 4

/** Maps of the family start, full, most, fade around today's; a jump of the map is left out. */
export function candidateMaps(source: CandidateSource): SlowingMap[] {
  const { today, ended, usualBar, fadeWidthKmh } = source
  const full = reachedAt(today)
  const fulls = [full, usualBar, (full + usualBar) / 2, 1.25 * full]
  const totals = ended
    ? [...SHARES.map((share) => share * totalNm(today)), ...source.totals]
    : [totalNm(today)]
  const widened: readonly [number, number] = [
    today.fade[0],
    Math.max(today.fade[1], today.fade[0] + fadeWidthKmh),
  ]
  const fades = widened[1] - today.fade[1] > STEP_KMH ? [today.fade, widened] : [today.fade]
  const starts = [today.start, ...source.starts, ...source.starts.map((bar) => (bar + today.start) / 2)]
  const maps: SlowingMap[] = []
  const seen = new Set<string>()
  for (const start of starts)
    for (const end of ended ? fulls : [throughReached(source, start)])
      for (const nm of totals)
        for (const fade of fades) {
          if (!(end >= start + SHORTEST_BAR) || !(nm > today.liftNm + 1)) continue
          const map = rounded({ ...withTotal(today, nm), start, full: end, fade, step: null }, today)
          const key = JSON.stringify(map)
          if (!seen.has(key)) maps.push(map)
          seen.add(key)
        }
  return maps
}

/** The full press of a map that begins elsewhere and gives as much as today's at the highest press that was seen. */
function throughReached({ today, reachedBar }: CandidateSource, start: number): number {
  const share = ramp(reachedBar, today.start, today.full)
  return share > 0 && reachedBar > start ? start + (reachedBar - start) / share : today.full
}

/** To tenths and halves as a controller's table takes them; what is changed is never rounded up in torque. */
function rounded(map: SlowingMap, today: SlowingMap): SlowingMap {
  const up = (value: number, step: number, before: number): number =>
    Math.abs(value - before) < step / 2 ? value : Math.ceil(value / step - 1e-6) * step
  return {
    ...map,
    start: up(map.start, 0.1, today.start),
    full: up(map.full, 0.5, today.full),
    brakeNm:
      Math.abs(map.brakeNm - today.brakeNm) < STEP_NM ? map.brakeNm : Math.floor(map.brakeNm * 2 + 1e-6) / 2,
    fade: [map.fade[0], up(map.fade[1], 0.5, today.fade[1])],
  }
}
