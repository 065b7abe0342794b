import { type BrakeTrace, brakeTrace } from '../../car/brake-trace.ts'
import type { Facts } from '../../facts/facts.ts'
import { lagged } from '../../math/follow-delay.ts'
import { type NonlinearFit, nonlinearFit } from '../../math/nonlinear-fit.ts'
import { quantile } from '../../math/stats.ts'
import { regenLimits } from './regen-limits.ts'
import { liftRegeneration, pressThrough, type RegenRows, regenRows } from './regen-rows.ts'

/** A figure with its 95 % half width and what it is worth. */
export interface Figure {
  readonly value: number
  readonly plusMinus: number | null
  readonly bound: 'exact' | 'at-least' | 'at-most'
}

/** Regeneration against brake input and speed, as the drive shows it. Regeneration positive here. */
export interface RegenFit {
  readonly from: 'torque_request' | 'torque' | 'power'
  /** bar, or % where the input is travel; null for switch-only cars. */
  readonly start: Figure | null
  readonly full: Figure | null
  readonly maxNm: Figure
  readonly fadeKmh: readonly [Figure, Figure] | null
  /** With both pedals free; null where the drive hardly coasts. */
  readonly liftNm: Figure | null
  /** Dead time and first-order lag from the brake signal to the figure fitted, s. */
  readonly deadS: number
  readonly lagS: number
  /** 95 % half width of the two together. */
  readonly delayPlusMinusS: number
  /** What the lag filters: the press before the map, or the torque after it. */
  readonly lagOn: LagOn
  readonly spreadNm: number
  readonly applications: number
  /** The fitted map as a function, bounds filled with the fit's own figures. */
  readonly shape: MapShape
  readonly rows: RegenRows
}

export interface MapShape {
  readonly start: number
  readonly full: number
  readonly maxNm: number
  readonly fade: readonly [number, number]
  readonly liftNm: number
}

type LagOn = 'press' | 'torque'

/** Regeneration of a map at a press and speed, N·m ≥ 0, before any lag or limit. */
export function mapNm(map: MapShape, press: number, kmh: number): number {
  return (map.liftNm + map.maxNm * ramp(press, map.start, map.full)) * ramp(kmh, map.fade[0], map.fade[1])
}

/** 0 up to `from`, 1 from `to` on, straight between. */
function ramp(x: number, from: number, to: number): number {
  if (!(to > from)) return x > from ? 1 : 0
  return Math.min(1, Math.max(0, (x - from) / (to - from)))
}

/** Slower logs show no lag; there brake and torque must stand in the same rows, s. */
export const SLOW_S = 0.3
/** In them the press may have moved on within a row: widens the start, bar. Common practice, no source. */
const SLOW_BAR = 1
/** Rows used for the search and for the last fit. */
const COARSE = 1500
const FINE = 5000
/** Above this the speed fade is taken to be over when coasting is looked at, km/h. */
const FAST_KMH = 20
/** A speed read 50 ms late while the car slows by 2 m/s², km/h. Common practice, no source. */
const SPEED_LATE_KMH = 0.35
/** Power that the torque does not see (accessories, idling inverter), W. Common practice, no source. */
const UNSEEN_W = 700

/**
 * Model: regeneration = (lift + max · clip((press − start) / (full − start), 0, 1)) · clip((v − v0) / (v1 − v0), 0, 1),
 * seen through a dead time and a first-order lag, of the press (a filtered sensor) or of the torque, whichever fits. Fitted to the torque request where it is logged (what the map says),
 * else to the torque (map and inverter together), else to battery power over motor speed, on moments with the
 * accelerator at rest, the car moving and nothing limiting (`regenLimits`). Lift-off regeneration is read from coasting
 * and taken out. Where brake and torque are read at moments of their own the brake may be written after the torque that
 * follows it: the dead time may then be negative, by one sample at most. Robust nonlinear least squares; the interval counts each brake application as one witness, and adds
 * the pressure sensor's noise and step.
 * Bounds: a full pressure or ceiling that no press reached is `at-least` the highest seen.
 * Biased by: a torque request logged after the inverter's own limits; noise of the pressure sensor (rounds the knee);
 * from power alone by what the battery feeds beside the motor (in the interval).
 * Gives null without brake applications that show regeneration, and for slow logs whose brake and torque are read at
 * different moments.
 */
export function regenMap(facts: Facts): RegenFit | null {
  const trace = facts.once(brakeTrace)
  if (!trace || trace.input === 'none' || trace.applications.length === 0) return null
  if (trace.periodS > SLOW_S && !trace.sameRows) return null
  const limits = facts.once(regenLimits)
  const coarse = regenRows(trace, limits, COARSE)
  if (coarse.nm.length < 30 || quantile(coarse.nm, 0.998) < 3) return null
  const lift = liftRegeneration(trace, FAST_KMH)
  const assumed = lift ?? facts.vehicle.brake?.lift_regen_nm ?? 0
  const slow = trace.periodS > SLOW_S
  const fixed = assumed
  let best: Attempt | null = null
  for (const [start, span] of [
    [0.08, 0.9],
    [0.3, 0.6],
    [0.02, 0.4],
  ] as const)
    best = better(
      best,
      attempt(coarse, fixed, slow, 'torque', 0, 10, guess(coarse, start, span, slow, assumed)),
    )
  const step = Math.max(trace.periodS, 0.005)
  const settled = best!.fit.parameters
  for (const lagOn of ['torque', 'press'] as const)
    for (let k = lagOn === 'press' ? 0 : 1; k <= 4 && !slow; k++)
      best = better(best, attempt(coarse, fixed, slow, lagOn, k * step, 3, settled))
  if (!slow) best = withoutLag(coarse, fixed, best!, step)
  const known = lift !== null || facts.vehicle.brake?.lift_regen_nm !== undefined
  const withLift = known ? null : freeLift(coarse, slow, best!)
  const free =
    withLift !== null &&
    withLift.cost < LIFT_GAIN * best!.cost &&
    withLift.fit.parameters[6]! >= LEAST_LIFT_NM
  if (free) best = withLift
  const { dead, fit } = best!
  const fine = regenRows(trace, limits, FINE)
  let last: Attempt | null = null
  for (const again of new Set([0, dead])) {
    const from = Float64Array.from(fit.parameters)
    from[5] = slow ? 0 : Math.max(from[5]!, dead - again)
    last = better(last, attempt(fine, free ? null : fixed, slow, best!.lagOn, again, 10, from))
  }
  const other = withLift && !free ? withLift.fit.parameters : null
  return readOut(last!, fine, trace, free ? last!.fit.parameters[6]! : lift, other)
}

interface Attempt {
  readonly fit: NonlinearFit
  readonly lagOn: LagOn
  readonly dead: number
  /** Sum of residuals to the power 1.5, each capped: compares attempts that outliers would else decide. */
  readonly cost: number
}

const better = (a: Attempt | null, b: Attempt): Attempt => (a && a.cost * 0.999 <= b.cost ? a : b)

/**
 * A fit that wants no lag may want the brake's samples moved by less than one of them, either way: a torque read 5 ms
 * before the brake that caused it takes 0.2 bar off the start.
 */
function withoutLag(rows: RegenRows, lift: number, settled: Attempt, step: number): Attempt {
  let best = settled
  for (let span = step / 2; span > step / 40 && best.fit.parameters[5]! <= LAG_NONE_S; span /= 2)
    for (const dead of [best.dead - span, best.dead + span])
      if (dead >= -step)
        best = better(best, attempt(rows, lift, false, best.lagOn, dead, 3, best.fit.parameters))
  return best
}

/** A lift-off torque that coasting does not show must better the fit to this share of its cost, and be worth the name. */
const LIFT_GAIN = 0.93
const LEAST_LIFT_NM = 2
/** A lag under this is none, s. */
const LAG_NONE_S = 1e-4

/** The settled fit again with lift-off regeneration left free, from what light presses show. */
function freeLift(rows: RegenRows, slow: boolean, settled: Attempt): Attempt {
  const light = rows.nm.filter(
    (_, i) => rows.press[i]! < 0.15 * quantile(rows.press, 0.998) && rows.kmh[i]! > FAST_KMH,
  )
  const lift = light.length >= 5 ? Math.max(1, quantile(light, 0.3)) : 1
  let best: Attempt | null = null
  const from = Float64Array.from(settled.fit.parameters)
  from[6] = lift
  from[0] = from[0]! + (lift * from[1]!) / from[2]!
  from[2] = Math.max(1, from[2]! - lift)
  for (const lagOn of ['torque', 'press'] as const)
    best = better(best, attempt(rows, null, slow, lagOn, settled.dead, 12, from))
  return best!
}

/** Parameters: start, full − start, max, v0, v1 − v0, lag, lift. */
function guess(rows: RegenRows, start: number, span: number, slow: boolean, lift: number): Float64Array {
  const top = quantile(rows.press, 0.998)
  return Float64Array.of(
    start * top,
    span * top,
    1.02 * quantile(rows.nm, 0.998),
    4,
    8,
    slow ? 0 : 0.02,
    lift,
  )
}

function attempt(
  rows: RegenRows,
  lift: number | null,
  slow: boolean,
  lagOn: LagOn,
  dead: number,
  rounds: number,
  from: Float64Array,
): Attempt {
  const top = quantile(rows.press, 0.998)
  const peak = quantile(rows.nm, 0.998)
  const fadeTop = Math.max(5, 0.6 * quantile(rows.kmh, 0.9))
  const press = lagOn === 'torque' ? pressThrough(rows, dead, 0) : null
  const fit = nonlinearFit(
    (p, out) => predict(rows, press ?? pressThrough(rows, dead, p[5]!), lagOn, p, out),
    rows.nm,
    Array.from(from),
    [0.05 * top, 0.1 * top, 0.1 * peak, 0.5, 0.5, 0.05, 0.05 * peak],
    [
      [-0.05 * top, 0.95 * top],
      [0.01 * top, 4 * top],
      [0.2 * peak, 4 * peak],
      [0, fadeTop],
      [0.2, fadeTop],
      [0, slow ? 0 : 1.5],
      lift === null ? [0, 0.6 * peak] : [lift, lift],
    ],
    rows.run,
    { rounds },
  )
  let cost = 0
  for (const r of fit.residuals) cost += Math.min(Math.abs(r), 0.3 * peak) ** 1.5
  return { fit, lagOn, dead, cost }
}

function shapeOf(p: ArrayLike<number>): MapShape {
  return { start: p[0]!, full: p[0]! + p[1]!, maxNm: p[2]!, fade: [p[3]!, p[3]! + p[4]!], liftNm: p[6]! }
}

function predict(
  rows: RegenRows,
  press: Float64Array,
  lagOn: LagOn,
  p: Float64Array,
  out: Float64Array,
): void {
  const map = shapeOf(p)
  for (let i = 0; i < out.length; i++) out[i] = mapNm(map, press[i]!, rows.kmh[i]!)
  const lag = p[5]!
  if (lagOn === 'press' || lag <= LAG_NONE_S) return
  let state = 0
  let before = 0
  for (let i = 0; i < out.length; i++) {
    const now = out[i]!
    const fresh = i === 0 || rows.run[i] !== rows.run[i - 1]
    state = fresh ? rows.nm[i]! : lagged(state, before, now, rows.timeS[i]! - rows.timeS[i - 1]!, lag)
    before = now
    out[i] = state
  }
}

function readOut(
  { fit, dead, lagOn }: Attempt,
  rows: RegenRows,
  trace: BrakeTrace,
  lift: number | null,
  /** The fit with a lift-off torque that could not be told from none: it widens the start. */
  other: Float64Array | null,
): RegenFit {
  const p = fit.parameters
  const shape = shapeOf(p)
  const [low, high] = shape.fade
  const error = (...at: number[]): number =>
    1.96 * Math.hypot(...at.map((each) => fit.standardErrors[each]! || 0))
  const count = (holds: (i: number) => boolean): number =>
    rows.nm.reduce((n, _, i) => n + (holds(i) ? 1 : 0), 0)
  const enough = Math.max(5, 0.02 * rows.nm.length)
  const analog = trace.input === 'pressure' || trace.input === 'travel'
  const saturated = !analog || count((i) => rows.press[i]! > shape.full && rows.kmh[i]! > high) >= enough
  const beyondFade = rows.press.filter((_, i) => rows.kmh[i]! > high)
  const topPress = quantile(beyondFade.length >= 10 ? beyondFade : rows.press, 0.999)
  // does any press above the start show more than the free pedals do? Else regeneration does not follow the press at all
  const followed =
    count(
      (i) =>
        rows.press[i]! > shape.start &&
        rows.kmh[i]! > high &&
        rows.nm[i]! - shape.liftNm > Math.max(2, 3 * fit.spread),
    ) >= Math.max(5, 0.01 * rows.nm.length)
  const fading = count(
    (i) => rows.kmh[i]! > low && rows.kmh[i]! < high && rows.press[i]! > shape.start + 0.1 * p[1]!,
  )
  const from = trace.requestNm ? 'torque_request' : trace.channels.includes('torque') ? 'torque' : 'power'
  const slope = shape.maxNm / Math.max(p[1]!, 1e-6)
  const unseenNm = from === 'power' ? UNSEEN_W / Math.max(30, omegaOf(rows)) : 0
  const liftError = lift === null ? 0.1 * shape.liftNm : Math.max(0.1 * lift, lift > 0 ? fit.spread : 0)
  const reading = Math.hypot(
    1.5 * trace.noise + 0.5 * smallestStep(trace),
    unseenNm / slope,
    liftError / slope,
  )
  const unsettled = other ? Math.abs(other[0]! - p[0]!) : 0
  const exact = (value: number, plusMinus: number): Figure => ({ value, plusMinus, bound: 'exact' })
  const atLeast = (value: number): Figure => ({ value, plusMinus: null, bound: 'at-least' })
  return {
    from,
    start: !analog
      ? null
      : !followed
        ? atLeast(0.96 * topPress)
        : exact(
            Math.max(0, shape.start),
            Math.hypot(error(0), reading, unsettled, trace.periodS > SLOW_S ? SLOW_BAR : 0),
          ),
    full:
      analog && followed
        ? saturated
          ? exact(shape.full, Math.hypot(error(0, 1), reading))
          : atLeast(0.96 * Math.min(shape.full, topPress))
        : null,
    maxNm: saturated
      ? exact(
          shape.maxNm,
          Math.hypot(
            error(2),
            0.1 * fit.spread,
            0.005 * shape.maxNm,
            unseenNm,
            from === 'power' ? 0.08 * shape.maxNm : 0,
          ),
        )
      : atLeast(0.96 * Math.min(shape.maxNm, quantile(rows.nm, 0.999) - shape.liftNm)),
    fadeKmh:
      fading >= Math.max(5, 0.005 * rows.nm.length)
        ? [
            exact(low, Math.hypot(error(3), SPEED_LATE_KMH)),
            exact(high, Math.hypot(error(3, 4), SPEED_LATE_KMH)),
          ]
        : null,
    liftNm: lift === null ? null : exact(lift, Math.hypot(fit.spread, unseenNm, 0.15 * lift)),
    deadS: dead,
    lagS: p[5]!,
    delayPlusMinusS: error(5) + trace.periodS / 2,
    lagOn,
    spreadNm: fit.spread,
    applications: trace.applications.length,
    shape,
    rows,
  }
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
