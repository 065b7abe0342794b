import type { Facts } from '../analyses/analysis.ts'
import { nonlinearFit } from '../math/nonlinear-fit.ts'
import { quantile } from '../math/stats.ts'
import { type BrakeTrace, brakeTrace } from './brake-trace.ts'
import { type LimitMarks, regenLimits } from './regen-limits.ts'

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
  readonly liftNm: Figure
  /** Dead time and first-order lag from the brake signal to the figure fitted, s. */
  readonly deadS: number
  readonly lagS: number
  readonly spreadNm: number
  readonly applications: number
  readonly samples: number
  /** Points (press, kmh, N·m) for drawing and for "what the drive showed". */
  readonly shown: { readonly press: Float64Array; readonly kmh: Float64Array; readonly nm: Float64Array }
}

export interface MapShape {
  readonly start: number
  readonly full: number
  readonly maxNm: number
  readonly fade: readonly [number, number]
  readonly liftNm: number
}

/** Regeneration of a map at a press and speed, N·m ≥ 0, before any lag or limit. */
export function mapNm(map: MapShape, press: number, kmh: number): number {
  const share =
    map.full > map.start ? (press - map.start) / (map.full - map.start) : press > map.start ? 1 : 0
  const [low, high] = map.fade
  const fade = high > low ? (kmh - low) / (high - low) : kmh > low ? 1 : 0
  const clip = (x: number): number => (x < 0 ? 0 : Math.min(x, 1))
  return (map.liftNm + map.maxNm * clip(share)) * clip(fade)
}

/** Samples from which the map is read, in runs without a break. */
interface Rows {
  readonly timeS: Float64Array
  readonly press: Float64Array
  readonly kmh: Float64Array
  readonly nm: Float64Array
  readonly run: Int32Array
}

/** Rows used for the search and for the last fit. */
const COARSE = 2500
const FINE = 8000

/**
 * Model: regeneration = (lift + max · clip((press − start) / (full − start), 0, 1)) · clip((v − v0) / (v1 − v0), 0, 1),
 * seen through a dead time and a first-order lag. Fitted to the torque request where it is logged (what the map says),
 * else to the torque (map and inverter together), else to battery power over motor speed, on moments with the
 * accelerator at rest, the car moving and nothing limiting (`regenLimits`). Robust nonlinear least squares; the
 * interval counts each brake application as one witness.
 * Bounds: a full pressure or ceiling that no press reached is `at-least` the highest seen.
 * Biased by: a torque request logged after the inverter's own limits; noise of the pressure sensor (rounds the knee).
 */
export function regenMap(facts: Facts): RegenFit | null {
  const trace = facts.once(brakeTrace)
  if (!trace || trace.applications.length === 0) return null
  const limits = facts.once(regenLimits)
  return fitMap(trace, limits)
}

function fitMap(trace: BrakeTrace, limits: LimitMarks | null): RegenFit | null {
  const fine = rowsOf(trace, limits, FINE)
  const coarse = rowsOf(trace, limits, COARSE)
  let rows = coarse
  if (rows.nm.length < 30) return null
  const from = trace.requestNm ? 'torque_request' : trace.channels.includes('torque') ? 'torque' : 'power'
  const top = quantile(rows.press, 0.998)
  const peak = Math.max(quantile(rows.nm, 0.998), 0.5)
  if (peak < 3) return null
  const fast = quantile(rows.kmh, 0.9)
  let best: { fit: ReturnType<typeof nonlinearFit>; cost: number; dead: number } | null = null
  const step = Math.max(trace.periodS, 0.005)
  const scale = [0.05 * top, 0.1 * top, 0.1 * peak, 0.5, 0.5, 0.1 * peak, 0.05]
  const bounds: [number, number][] = [
    [-0.05 * top, 0.95 * top],
    [0.01 * top, 4 * top],
    [0.2 * peak, 4 * peak],
    [0, Math.max(5, 0.6 * fast)],
    [0.2, Math.max(5, 0.6 * fast)],
    [0, peak],
    [0, trace.periodS > 0.3 ? 0 : 1.5],
  ]
  const starts = [
    [0.08 * top, 0.9 * top, 1.02 * peak],
    [0.3 * top, 0.6 * top, 1.02 * peak],
    [0.02 * top, 0.4 * top, 1.02 * peak],
  ]
  const tries = (dead: number, guess: readonly number[], rounds: number): void => {
    const delayed = delay(rows, dead)
    const fit = nonlinearFit(
      (p, out) => predict(rows, delayed, p, out),
      rows.nm,
      guess,
      scale,
      bounds,
      rows.run,
      {
        rounds,
      },
    )
    let cost = 0
    for (const r of fit.residuals) cost += Math.min(Math.abs(r), 0.3 * peak) ** 1.5
    if (!best || cost < best.cost * 0.999) best = { fit, cost, dead }
  }
  for (const [start, span, max] of starts)
    tries(0, [start!, span!, max!, 4, 8, 0, trace.periodS > 0.3 ? 0 : 0.02], 12)
  const afterStarts = best as unknown as { fit: ReturnType<typeof nonlinearFit> }
  for (let k = 1; k <= 4 && step < 0.3; k++) tries(k * step, Array.from(afterStarts.fit.parameters), 6)
  const settled = best as unknown as { fit: ReturnType<typeof nonlinearFit>; dead: number }
  rows = fine
  best = null
  const guess = Array.from(settled.fit.parameters)
  for (const dead of new Set([0, settled.dead]))
    tries(dead, [...guess.slice(0, 6), Math.max(guess[6]!, settled.dead - dead)], 12)
  const { fit, dead } = best as unknown as { fit: ReturnType<typeof nonlinearFit>; dead: number }
  return readOut(fit, dead, rows, trace, from)
}

function readOut(
  fit: ReturnType<typeof nonlinearFit>,
  dead: number,
  rows: Rows,
  trace: BrakeTrace,
  from: RegenFit['from'],
): RegenFit {
  const [start, span, max, low, width, lift, lag] = fit.parameters as unknown as [
    number,
    number,
    number,
    number,
    number,
    number,
    number,
  ]
  const error = (at: number): number => 1.96 * (fit.standardErrors[at]! || 0)
  const full = start + span
  const above = (bar: number): number =>
    rows.press.reduce((n, p, i) => n + (p > bar && rows.kmh[i]! > low + width ? 1 : 0), 0)
  const inFade = rows.nm.reduce(
    (n, _, i) =>
      n + (rows.kmh[i]! < low + width && rows.kmh[i]! > low && rows.press[i]! > start + 0.1 * span ? 1 : 0),
    0,
  )
  const enough = Math.max(5, 0.1 / trace.periodS)
  const topPress = quantile(rows.press, 0.999)
  const saturated = trace.input === 'switch' || above(full) >= enough
  const stepError = 1.5 * trace.noise + 0.5 * smallestStep(trace)
  const figure = (value: number, plusMinus: number, bound: Figure['bound'] = 'exact'): Figure => ({
    value,
    plusMinus: bound === 'exact' ? plusMinus : null,
    bound,
  })
  const peakShown = quantile(rows.nm, 0.999)
  const analog = trace.input === 'pressure' || trace.input === 'travel'
  return {
    from,
    start: analog ? figure(Math.max(0, start), Math.max(error(0), stepError)) : null,
    full: analog
      ? saturated
        ? figure(full, Math.hypot(error(0), error(1), stepError))
        : figure(Math.min(full, topPress), 0, 'at-least')
      : null,
    maxNm: saturated
      ? figure(max, Math.max(error(2), fit.spread * 0.1))
      : figure(Math.min(max, peakShown), 0, 'at-least'),
    fadeKmh:
      inFade >= enough ? [figure(low, error(3)), figure(low + width, Math.hypot(error(3), error(4)))] : null,
    liftNm: figure(lift, Math.max(error(5), fit.spread * 0.2)),
    deadS: dead,
    lagS: lag,
    spreadNm: fit.spread,
    applications: trace.applications.length,
    samples: rows.nm.length,
    shown: { press: rows.press, kmh: rows.kmh, nm: rows.nm },
  }
}

function smallestStep(trace: BrakeTrace): number {
  let least = Number.POSITIVE_INFINITY
  for (let i = 1; i < Math.min(trace.press.length, 20000); i++) {
    const size = Math.abs(trace.press[i]! - trace.press[i - 1]!)
    if (size > 1e-6 && size < least) least = size
  }
  return Number.isFinite(least) && trace.input === 'pressure' ? Math.min(least, 0.5) : 0
}

/** Runs of moments that show the map: accelerator at rest, moving forward, nothing limiting, near a press. */
function rowsOf(trace: BrakeTrace, limits: LimitMarks | null, most: number): Rows {
  const shown = trace.requestNm ?? trace.torqueNm
  const keep: number[] = []
  const runs: number[] = []
  let run = 0
  let last = -2
  let app = 0
  const stride = Math.max(1, Math.ceil(countNear(trace) / most))
  for (let i = 0; i < trace.timeS.length; i += stride) {
    const at = trace.timeS[i]!
    while (app < trace.applications.length && trace.applications[app]![1] + 0.5 < at) app++
    const near =
      trace.input === 'none' || (app < trace.applications.length && at >= trace.applications[app]![0] - 1)
    const usable =
      near &&
      trace.released[i] === 1 &&
      trace.kmh[i]! > 0.5 &&
      Number.isFinite(shown[i]) &&
      Number.isFinite(trace.press[i]) &&
      (limits === null || limits.cause[i] === 0)
    if (!usable) continue
    if (last !== i - stride) run++
    keep.push(i)
    runs.push(run)
    last = i
  }
  const pick = (values: Float64Array): Float64Array => Float64Array.from(keep, (i) => values[i]!)
  return {
    timeS: pick(trace.timeS),
    press: pick(trace.press),
    kmh: pick(trace.kmh),
    nm: pick(shown).map((nm) => -nm),
    run: Int32Array.from(runs),
  }
}

function countNear(trace: BrakeTrace): number {
  const seconds = trace.applications.reduce((sum, [from, to]) => sum + to - from + 1.5, 0)
  return trace.input === 'none' ? trace.timeS.length : seconds / Math.max(trace.periodS, 1e-3)
}

/** Press of each row `dead` seconds earlier, by a straight line inside the run. */
function delay(rows: Rows, dead: number): Float64Array {
  if (dead <= 0) return rows.press
  const out = new Float64Array(rows.press.length)
  let at = 0
  for (let i = 0; i < out.length; i++) {
    const moment = rows.timeS[i]! - dead
    if (at > i || rows.run[at] !== rows.run[i]) at = i
    while (at > 0 && rows.run[at - 1] === rows.run[i] && rows.timeS[at]! > moment) at--
    while (at + 1 < i && rows.timeS[at + 1]! <= moment) at++
    const gap = at + 1 <= i ? rows.timeS[at + 1]! - rows.timeS[at]! : 0
    const share = gap > 0 ? Math.min(1, Math.max(0, (moment - rows.timeS[at]!) / gap)) : 0
    out[i] = rows.press[at]! + share * ((rows.press[at + 1] ?? rows.press[at]!) - rows.press[at]!)
  }
  return out
}

function predict(rows: Rows, press: Float64Array, p: Float64Array, out: Float64Array): void {
  const map: MapShape = {
    start: p[0]!,
    full: p[0]! + p[1]!,
    maxNm: p[2]!,
    fade: [p[3]!, p[3]! + p[4]!],
    liftNm: p[5]!,
  }
  const lag = p[6]!
  let state = 0
  let before = 0
  for (let i = 0; i < out.length; i++) {
    const target = mapNm(map, press[i]!, rows.kmh[i]!)
    if (i === 0 || rows.run[i] !== rows.run[i - 1]) state = rows.nm[i]!
    else if (lag > 1e-4) {
      const dt = rows.timeS[i]! - rows.timeS[i - 1]!
      const behind = ((target - before) / dt) * lag // how far a first-order lag trails a ramp
      state = target - behind + (state - before + behind) * Math.exp(-dt / lag)
    } else state = target
    before = target
    out[i] = state
  }
}
