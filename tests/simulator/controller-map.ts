/** What a controller does with the brake, beyond a ramp of pressure that adds to lift-off; own figures. */
export interface ControllerMap {
  readonly form: 'sum' | 'larger' | 'replaces'
  /** The lift-off part's own fade, km/h; null: that of the brake part. */
  readonly liftFadeKmh: readonly [number, number] | null
  /** By so much the press must fall before the map follows it down, bar. */
  readonly backBar: number
  /** Jumps by `nm` at `bar`, within its most. */
  readonly step: { readonly bar: number; readonly nm: number } | null
  /** Ramps over pressure, or over the pedal's travel (12 % · √bar). */
  readonly axis: 'pressure' | 'travel'
  /** Limits that no channel tells: highest mean cell, V; fading with charge from … none, %; power at the shaft, W. */
  readonly cellV: number | null
  readonly socPercent: readonly [from: number, none: number] | null
  readonly watts: number | null
}

export const PLAIN_MAP: ControllerMap = {
  form: 'sum',
  liftFadeKmh: null,
  backBar: 0,
  step: null,
  axis: 'pressure',
  cellV: null,
  socPercent: null,
  watts: null,
}

/** The brake figures of a car or build that a map needs. */
interface Ramp {
  readonly startBar: number
  readonly fullBar: number
  readonly maxNm: number
  readonly liftNm: number
  readonly fadeKmh: readonly [number, number]
}

export const travelOf = (bar: number): number => Math.min(100, 12 * Math.sqrt(Math.max(0, bar)))

const clip = (x: number): number => Math.min(1, Math.max(0, x))
const fades = (kmh: number, [low, high]: readonly [number, number]): number =>
  clip((kmh - low) / (high - low))

export const liftNm = (map: ControllerMap, ramp: Ramp, kmh: number): number =>
  ramp.liftNm * fades(kmh, map.liftFadeKmh ?? ramp.fadeKmh)

/** What a press adds to lift-off, N·m (less than nothing where it takes its place and is smaller). */
export function pressNm(map: ControllerMap, ramp: Ramp, bar: number, kmh: number): number {
  const x = map.axis === 'travel' ? travelOf : (at: number) => at
  const share = clip((x(bar) - x(ramp.startBar)) / (x(ramp.fullBar) - x(ramp.startBar)))
  const jump = map.step && bar >= map.step.bar ? map.step.nm : 0
  const brake = Math.min(ramp.maxNm, share * ramp.maxNm + jump) * fades(kmh, ramp.fadeKmh)
  const lift = liftNm(map, ramp, kmh)
  if (map.form === 'sum') return brake
  if (map.form === 'larger') return Math.max(lift, brake) - lift
  return bar > ramp.startBar ? brake - lift : 0
}

/** What the battery's own state leaves of a slowing torque of `nm` at `omega` rad/s, N·m. */
export function leftNm(
  map: ControllerMap,
  nm: number,
  omega: number,
  volt: number,
  battery: { readonly cellV: number; readonly cellOhm: number; readonly soc: number },
  lossW: number,
): number {
  let most = nm
  if (map.socPercent) {
    const [from, none] = map.socPercent
    most *= clip((none - 100 * battery.soc) / (none - from))
  }
  if (omega > 1 && map.cellV !== null) {
    const amps = Math.max(0, (map.cellV - battery.cellV) / battery.cellOhm)
    most = Math.min(most, (amps * volt + lossW) / omega)
  }
  if (omega > 1 && map.watts !== null) most = Math.min(most, map.watts / omega)
  return most
}

/** Play between rising and falling press. */
export const played = (before: number, bar: number, back: number): number =>
  Math.min(bar + back, Math.max(bar, before))
