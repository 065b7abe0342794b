import type { BrakeTrace } from '../../car/brake-trace.ts'
import { FEWEST_FOR_MEDIAN } from '../../math/fewest.ts'
import { quantile } from '../../math/stats.ts'
import { type LiftFade, SPEED_LATE_KMH } from './lift-fade.ts'
import { LEAST_LIFT_NM, pressThrough, type RegenRows } from './regen-rows.ts'
import { type Attempt, lagOf, mapOf, P } from './slowing-attempt.ts'
import type { SlowingFit } from './slowing-fit.ts'
import {
  aboveFades,
  brakePartNm,
  type Form,
  reachedAt,
  type SlowingMap,
  slowingNm,
  totalNm,
} from './slowing-map.ts'

/** Fewer rows beyond give no quantile; no source. */
const FEWEST_BEYOND = 10
/** A press that asks for more than this share of the brake part shows its fade; no source. */
const BRAKING_SHARE = 0.1

/** A figure with its 95 % half width and what it is worth. */
export interface Figure {
  readonly value: number
  readonly plusMinus: number | null
  readonly bound: 'exact' | 'at-least' | 'at-most'
}

/** What the drive says of the map, figure by figure. */
export interface SlowingFigures {
  /** null where the drive does not tell how lift-off and brake part join, or has no lift-off part. */
  readonly form: Form | null
  /** bar, or % where the input is travel; null for switch-only cars. */
  readonly start: Figure | null
  readonly full: Figure | null
  /** With both pedals free; null where the drive hardly coasts. */
  readonly liftNm: Figure | null
  /** Over lift-off; null where the two cannot be parted. */
  readonly brakeNm: Figure | null
  /** Most slowing torque in all. */
  readonly maxNm: Figure
  readonly fadeKmh: readonly [Figure, Figure] | null
  readonly liftFadeKmh: readonly [Figure, Figure] | null
  /** Highest press and torque that stand behind the map, above the fade: nothing beyond was shown. */
  readonly reachedPress: number
  readonly reachedNm: number
}

/** A bound is the value that all but this share of the highest readings reached. */
const HIGHEST = 0.999
/** A bound stays so far under what was read: noise and overshoot. Common practice, no source. */
const UNDER = 0.96
/** Presses under this share of the highest are light. Common practice, no source. */
const LIGHT_SHARE = 0.15
/** In slow logs the press may have moved on within a row: widens the start, bar. Common practice, no source. */
const SLOW_S = 0.3
const SLOW_BAR = 1
/** Power that the torque does not see (accessories, idling inverter), W. Common practice, no source. */
const UNSEEN_W = 700
/** Error of torque read from power, share. Common practice, no source. */
const POWER_SHARE = 0.08
/** An end is reached when this share of the rows, and so many, lie beyond it. */
const END_SHARE = 0.02
const END_ROWS = 5
/** Beyond: by this share of the way from start to full, and more than the sensor's noise. Study: brake maps, 2026-11-27. */
const END_BEYOND = 0.06
/** Past a jump the level must be seen over this share of the ramp. Study: known maps, 2026-11-27. */
const STEP_RUN = 0.15
/** Beyond the full press the torque must stay level: it may rise by at most this share of the slope before it. */
const LEVEL_SHARE = 0.3

export function figuresOf(
  fit: SlowingFit,
  trace: BrakeTrace,
  lift: number | null,
  fade: LiftFade | null,
): SlowingFigures {
  const { rows } = fit
  const { setup, fit: last } = fit.last
  const p = last.parameters
  const map = mapOf(setup, p)
  const analog = trace.input === 'pressure' || trace.input === 'travel'
  const press = pressThrough(rows, { ...setup, lagS: lagOf(setup, p) })
  const seen = seenBy(rows, press, map, p[P.power]!)
  const error = (...at: number[]): number =>
    1.96 * Math.hypot(...at.map((each) => last.standardErrors[each]! || 0))
  const reached = !analog || endReached(rows, press, map, seen.open, 3 * trace.noise)
  const followed = follows(rows, press, map, last.spread)
  const fromPower = !trace.requestNm && !trace.channels.includes('torque')
  const unseenNm = fromPower ? UNSEEN_W / Math.max(30, omegaOf(rows)) : 0
  const slope = map.brakeNm / Math.max(map.full - map.start, 1e-6)
  const liftNm = fit.liftFree ? p[P.lift]! : lift
  const liftError = liftNm === null ? 0.1 * map.liftNm : Math.max(0.1 * liftNm, liftNm > 0 ? last.spread : 0)
  const reading = Math.hypot(
    1.5 * trace.noise + 0.5 * smallestStep(trace),
    unseenNm / slope,
    (map.form === 'sum' ? liftError : 0) / slope,
  )
  const others = [fit.rival, fit.withLift].flatMap((each) => (each ? [each.fit.parameters[P.start]!] : []))
  const unsettled = Math.max(0, ...others.map((start) => Math.abs(start - map.start)))
  const scatter = Math.hypot(0.1 * last.spread, unseenNm, fromPower ? POWER_SHARE * totalNm(map) : 0)
  const top = totalNm(map)
  const fast = aboveFades(map) + 5
  const reachedPress = reached ? Math.max(seen.press, reachedAt(map)) : seen.press
  const most: Figure = reached
    ? exact(
        top,
        Math.hypot(
          error(P.brake),
          map.form === 'sum' && fit.liftFree ? error(P.lift) : 0,
          scatter,
          0.005 * top,
        ),
      )
    : atLeast(UNDER * Math.min(top, seen.nm, slowingNm(map, reachedPress, fast)))
  // torque before any press, and no lift-off that drive or file knows of: the two parts cannot be told apart
  const unparted = !fit.liftKnown && map.start < 1.96 * (last.standardErrors[P.start]! || 0)
  const liftFigure =
    liftNm === null || unparted
      ? null
      : exact(liftNm, Math.hypot(last.spread, unseenNm, 0.15 * liftNm, fit.liftFree ? error(P.lift) : 0))
  return {
    form: liftFigure !== null && liftFigure.value >= LEAST_LIFT_NM && fit.formTold ? map.form : null,
    start: !analog
      ? null
      : !followed
        ? atLeast(UNDER * seen.press)
        : unparted
          ? atMost(latestStart(rows, press, map, last.spread) + reading)
          : exact(
              Math.max(0, map.start),
              Math.hypot(error(P.start), reading, unsettled, trace.periodS > SLOW_S ? SLOW_BAR : 0),
            ),
    full:
      analog && followed
        ? reached
          ? exact(reachedAt(map), Math.hypot(error(P.start, P.span), reading))
          : atLeast(UNDER * Math.min(reachedAt(map), seen.press))
        : null,
    liftNm: liftFigure,
    brakeNm: overLift(most, liftFigure),
    maxNm: most,
    fadeKmh: brakeFade(rows, press, map, error, [fit.rival, fit.withLift, fit.ownFade]),
    liftFadeKmh: fade ? [exact(fade.low, fade.plusMinus), exact(fade.high, fade.plusMinus)] : null,
    reachedPress,
    reachedNm: reached ? top : Math.min(top, seen.nm),
  }
}

const exact = (value: number, plusMinus: number): Figure => ({ value, plusMinus, bound: 'exact' })
const atLeast = (value: number): Figure => ({ value, plusMinus: null, bound: 'at-least' })

const atMost = (value: number): Figure => ({ value, plusMinus: null, bound: 'at-most' })

/** Where the brake part begins if all the torque of the lightest presses is lift-off. */
function latestStart(rows: RegenRows, press: Float64Array, map: SlowingMap, spread: number): number {
  const fast = rows.nm.map((_, i) => i).filter((i) => rows.kmh[i]! > aboveFades(map))
  const lightest = LIGHT_SHARE * quantile(press, HIGHEST)
  const light = [...fast].filter((i) => press[i]! < lightest).map((i) => rows.nm[i]!)
  const lift = light.length >= END_ROWS ? quantile(light, 0.5) : 0
  // the line may miss a level under the presses: what still reads as the light presses do has not begun for sure
  const level = lift + Math.max(LEAST_LIFT_NM, 3 * spread)
  const alike = [...fast].filter((i) => rows.nm[i]! <= level).map((i) => press[i]!)
  const lasts = alike.length >= END_ROWS ? quantile(alike, 0.98) : 0
  const over = Math.max(0, lift - (map.form === 'sum' ? map.liftNm : 0))
  return Math.max(0, lasts, map.start + ((map.full - map.start) * over) / Math.max(1, map.brakeNm))
}

/** The most in all less the lift-off part; null where that one is not known. */
function overLift(most: Figure, lift: Figure | null): Figure | null {
  if (!lift) return null
  const value = Math.max(0, most.value - lift.value)
  return most.plusMinus === null
    ? { ...most, value }
    : { ...most, value, plusMinus: Math.hypot(most.plusMinus, lift.plusMinus ?? 0) }
}

interface Seen {
  readonly press: number
  readonly nm: number
  /** Above the fades and not under a cap of constant power. */
  readonly open: (i: number) => boolean
}

function seenBy(rows: RegenRows, press: Float64Array, map: SlowingMap, powerNmKmh: number): Seen {
  const fast = aboveFades(map)
  const open = (i: number): boolean =>
    rows.kmh[i]! > fast && powerNmKmh / rows.kmh[i]! > 1.05 * slowingNm(map, press[i]!, rows.kmh[i]!)
  const beyond = press.filter((_, i) => open(i))
  return {
    press: quantile(beyond.length >= FEWEST_BEYOND ? beyond : press, HIGHEST),
    nm: quantile(rows.nm, HIGHEST),
    open,
  }
}

/** Does the drive show the level beyond the full press: enough moments there, and no rise left among them? */
function endReached(
  rows: RegenRows,
  press: Float64Array,
  map: SlowingMap,
  open: (i: number) => boolean,
  noise: number,
): boolean {
  const full = reachedAt(map)
  const beyond = full + Math.max(END_BEYOND * (full - map.start), noise)
  const at: number[] = []
  for (let i = 0; i < rows.nm.length; i++) if (press[i]! > beyond && open(i)) at.push(i)
  if (at.length < Math.max(END_ROWS, END_SHARE * rows.nm.length)) return false
  const middle = quantile(
    at.map((i) => press[i]!),
    0.5,
  )
  const half = (upper: boolean): number[] =>
    at.filter((i) => (upper ? press[i]! >= middle : press[i]! < middle)).map((i) => rows.nm[i]!)
  const [near, far] = [half(false), half(true)]
  if (near.length < FEWEST_FOR_MEDIAN || far.length < FEWEST_FOR_MEDIAN) return map.step === null
  const run =
    quantile(
      at.map((i) => press[i]!),
      0.75,
    ) -
    quantile(
      at.map((i) => press[i]!),
      0.25,
    )
  // past a jump a short run looks level whatever comes after it
  if (map.step && run < STEP_RUN * (map.full - map.start)) return false
  const slope = map.brakeNm / Math.max(map.full - map.start, 1e-6)
  return quantile(far, 0.5) - quantile(near, 0.5) <= LEVEL_SHARE * slope * run + 0.02 * map.brakeNm
}

/** Does any press above the start show more than the free pedals do? Else regeneration does not follow the press. */
function follows(rows: RegenRows, press: Float64Array, map: SlowingMap, spread: number): boolean {
  let shown = 0
  for (let i = 0; i < rows.nm.length; i++)
    if (
      press[i]! > map.start &&
      rows.kmh[i]! > map.fade[1] &&
      rows.nm[i]! - map.liftNm > Math.max(2, 3 * spread)
    )
      shown++
  return shown >= Math.max(END_ROWS, 0.01 * rows.nm.length)
}

/** Where the brake part fades, if presses were seen while it faded. */
function brakeFade(
  rows: RegenRows,
  press: Float64Array,
  map: SlowingMap,
  error: (...at: number[]) => number,
  others: readonly (Attempt | null)[],
): readonly [Figure, Figure] | null {
  const [low, high] = map.fade
  let fading = 0
  for (let i = 0; i < rows.nm.length; i++) {
    const share = brakePartNm(map, press[i]!, high + 1) / Math.max(1e-6, map.brakeNm)
    if (rows.kmh[i]! > low && rows.kmh[i]! < high && share > BRAKING_SHARE) fading++
  }
  if (fading < Math.max(END_ROWS, 0.005 * rows.nm.length)) return null
  const apart = (of: (fade: readonly [number, number]) => number, here: number): number =>
    Math.max(
      0,
      ...others.map((each) => (each ? Math.abs(of(mapOf(each.setup, each.fit.parameters).fade) - here) : 0)),
    )
  return [
    exact(
      low,
      Math.hypot(
        error(P.fade),
        SPEED_LATE_KMH,
        apart((fade) => fade[0], low),
      ),
    ),
    exact(
      high,
      Math.hypot(
        error(P.fade, P.width),
        SPEED_LATE_KMH,
        apart((fade) => fade[1], high),
      ),
    ),
  ]
}

/** A rough motor speed for the size of what power cannot see: 1 km/h is about 8 rad/s in a single-speed car. */
const omegaOf = (rows: RegenRows): number => 8 * quantile(rows.kmh, 0.7)

function smallestStep(trace: BrakeTrace): number {
  if (trace.input !== 'pressure') return 0
  let least = 0.5
  for (let i = 1; i < Math.min(trace.press.length, 20000); i++) {
    const size = Math.abs(trace.press[i]! - trace.press[i - 1]!)
    if (size > 1e-6 && size < least) least = size
  }
  return least
}
