/** How the lift-off part and the brake part of a controller's map join. */
export type Form = 'sum' | 'larger' | 'replaces'
export const FORMS: readonly Form[] = ['sum', 'larger', 'replaces']

/**
 * The one map of slowing torque, regeneration positive. Every figure, line, table, proposal and replay is read from it.
 *
 *     N·m
 *      │            ┌───────── brakeNm            sum:      lift + brake
 *      │          ╱                               larger:   whichever is more
 *      │        ╱                                 replaces: the brake part alone once the brake is pressed
 *      │──────╱·················· lift
 *      └──────┴─────┴──────────── bar
 *           start  full                           each part times its own fade over speed
 */
export interface SlowingMap {
  readonly form: Form
  /** bar (% of travel), where the brake part begins and where it has reached its most. */
  readonly start: number
  readonly full: number
  /** Most of the brake part by itself, N·m. */
  readonly brakeNm: number
  /** km/h: 0 at the first, whole at the second. */
  readonly fade: readonly [number, number]
  readonly liftNm: number
  readonly liftFade: readonly [number, number]
  /** A jump of the brake part at a press, within its most; null where it has none. */
  readonly step: { readonly at: number; readonly nm: number } | null
}

/** Slowing torque at a press and speed, N·m ≥ 0, before any delay or limit. */
export function slowingNm(map: SlowingMap, press: number, kmh: number): number {
  return slowingWith(map, press, brakeLeft(map, kmh), liftPartNm(map, kmh))
}

/** The same where what the speed leaves of the brake part, and the lift-off part there, are known: for many presses. */
export function slowingWith(map: SlowingMap, press: number, left: number, liftNm: number): number {
  return joined(map, press, unfadedNm(map, press) * left, liftNm)
}

/** What the speed leaves of the brake part, 0 to 1. */
export const brakeLeft = (map: SlowingMap, kmh: number): number => ramp(kmh, map.fade[0], map.fade[1])

function joined({ form, start }: SlowingMap, press: number, brake: number, lift: number): number {
  if (form === 'sum') return lift + brake
  if (form === 'larger') return Math.max(lift, brake)
  return press > start ? brake : lift
}

function unfadedNm(map: SlowingMap, press: number): number {
  const jump = map.step && press >= map.step.at ? map.step.nm : 0
  return Math.min(map.brakeNm, map.brakeNm * ramp(press, map.start, map.full) + jump)
}

export function brakePartNm(map: SlowingMap, press: number, kmh: number): number {
  return unfadedNm(map, press) * brakeLeft(map, kmh)
}

export function liftPartNm(map: SlowingMap, kmh: number): number {
  return map.liftNm === 0 ? 0 : map.liftNm * ramp(kmh, map.liftFade[0], map.liftFade[1])
}

/** Most slowing torque in all. */
export const totalNm = ({ form, brakeNm, liftNm }: SlowingMap): number =>
  form === 'sum' ? brakeNm + liftNm : Math.max(brakeNm, liftNm)

/** The same map with another most in all; the lift-off part stays. */
export function withTotal(map: SlowingMap, nm: number): SlowingMap {
  return { ...map, brakeNm: Math.max(0, map.form === 'sum' ? nm - map.liftNm : nm) }
}

/** Where the brake part has truly reached its most: sooner than `full` where the map jumps on the way. */
export function reachedAt(map: SlowingMap): number {
  if (!map.step || !(map.brakeNm > 0)) return map.full
  const share = Math.max(0, 1 - map.step.nm / map.brakeNm)
  return Math.max(map.step.at, map.start + share * (map.full - map.start))
}

/** Speed above which no part fades. */
export const aboveFades = (map: SlowingMap): number =>
  map.liftNm > 0 ? Math.max(map.fade[1], map.liftFade[1]) : map.fade[1]

/** Presses at which the map bends or jumps at a speed, ascending: straight between them. */
export function bendsOf(map: SlowingMap, kmh = Number.POSITIVE_INFINITY): number[] {
  const bends = [0, map.start, reachedAt(map), ...(map.step ? [map.step.at] : [])]
  if (map.form === 'larger') bends.push(crossingOf(map, kmh))
  return [...new Set(bends.filter((bar) => bar >= 0 && Number.isFinite(bar)))].sort((a, b) => a - b)
}

/** Two points so close together draw a jump, bar. */
const JUMP_BAR = 0.01
/** On either side of a bend, bar. */
const BESIDE = 1e-9

/** The map as a line above its fades, straight between its points, from one press to another. */
export function curveOf(map: SlowingMap, upTo: number, from = 0): [number, number][] {
  const fast = aboveFades(map) + 5
  const at = (bar: number): number => slowingNm(map, bar, fast)
  const line: [number, number][] = []
  for (const bar of bendsOf(map, fast)) {
    if (bar < from || !(bar < upTo)) continue
    const before = bar > from ? at(bar - BESIDE) : at(bar)
    const after = at(bar + BESIDE)
    line.push([bar, before])
    if (Math.abs(after - before) > 1e-3) line.push([bar + JUMP_BAR, after])
  }
  line.push([upTo, at(upTo)])
  return line
}

/** Where a brake part that only counts when it is the larger passes the lift-off part at a speed. */
export function crossingOf(map: SlowingMap, kmh: number): number {
  const most = map.brakeNm * ramp(kmh, map.fade[0], map.fade[1])
  return map.start + ((map.full - map.start) * liftPartNm(map, kmh)) / Math.max(1e-9, most)
}

/** 0 up to `from`, 1 from `to` on, straight between. */
export function ramp(x: number, from: number, to: number): number {
  if (!(to > from)) return x > from ? 1 : 0
  return Math.min(1, Math.max(0, (x - from) / (to - from)))
}
