import type { BrakeTrace } from '../../car/brake-trace.ts'
import { lagged } from '../../math/follow-delay.ts'
import { quantile } from '../../math/stats.ts'
import type { LimitMarks } from './regen-limits.ts'

/** Samples from which the map is read, in runs without a break. */
export interface RegenRows {
  readonly timeS: Float64Array
  /** Press in the input's unit. */
  readonly press: Float64Array
  readonly kmh: Float64Array
  /** Regeneration, positive. */
  readonly nm: Float64Array
  /** Number of the run; a new one wherever samples are missing. */
  readonly run: Int32Array
  /** The press without the gaps that the accelerator leaves, and each row's place in it: what a lag has seen. */
  readonly past: { readonly timeS: Float64Array; readonly press: Float64Array; readonly at: Int32Array }
}

/** Before a press begins and after it ends, so much is looked at too, s. */
const AROUND_S = [1, 0.5] as const

/**
 * Runs of moments that show the map: accelerator at rest, moving, nothing limiting, near a press; thinned to about
 * `most` rows. Torque is the request where it is logged.
 */
export function regenRows(trace: BrakeTrace, limits: LimitMarks | null, most: number): RegenRows {
  const shown = trace.requestNm ?? trace.torqueNm
  const keep: number[] = []
  const runs: number[] = []
  const seen: number[] = []
  const places: number[] = []
  let run = 0
  let last = Number.NEGATIVE_INFINITY
  let app = 0
  const stride = Math.max(1, Math.ceil(rowsNear(trace) / most))
  for (let i = 0; i < trace.timeS.length; i += stride) {
    const at = trace.timeS[i]!
    while (app < trace.applications.length && trace.applications[app]![1] + AROUND_S[1] < at) app++
    const next = trace.applications[app]
    if (next === undefined || at < next[0] - AROUND_S[0] || !Number.isFinite(trace.press[i])) continue
    seen.push(i)
    const usable =
      trace.released[i] === 1 &&
      trace.kmh[i]! > 0.5 &&
      Number.isFinite(shown[i]) &&
      (limits === null || limits.cause[i] === 0)
    if (!usable) continue
    if (last !== i - stride) run++
    keep.push(i)
    places.push(seen.length - 1)
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
    past: {
      timeS: Float64Array.from(seen, (i) => trace.timeS[i]!),
      press: Float64Array.from(seen, (i) => trace.press[i]!),
      at: Int32Array.from(places),
    },
  }
}

function rowsNear(trace: BrakeTrace): number {
  const seconds = trace.applications.reduce(
    (sum, [from, to]) => sum + to - from + AROUND_S[0] + AROUND_S[1],
    0,
  )
  return seconds / Math.max(trace.periodS, 1e-3)
}

/**
 * Regeneration with both pedals free, N·m: the 80 % quantile over moments with the accelerator at rest for over a second, the
 * brake free and the car above `fastKmh`. Under 2 N·m counts as none. A foot that rests on the pedal holds part of it
 * back, hence not the median. Gives null where the drive hardly coasts.
 */
export function liftRegeneration(trace: BrakeTrace, fastKmh: number): number | null {
  const coasting: number[] = []
  let since = Number.POSITIVE_INFINITY
  for (let i = 0; i < trace.timeS.length; i++) {
    const free = trace.released[i] === 1 && trace.press[i]! < trace.begunAt / 2
    since = free ? Math.min(since, trace.timeS[i]!) : Number.POSITIVE_INFINITY
    if (trace.timeS[i]! - since >= 0.7 && trace.kmh[i]! > fastKmh && Number.isFinite(trace.torqueNm[i]))
      coasting.push(-(trace.requestNm ?? trace.torqueNm)[i]!)
  }
  if (coasting.length * trace.periodS < 0.5 || coasting.length < 5) return null
  const typical = quantile(coasting, 0.8)
  return typical >= 2 ? typical : 0
}

/** A gap over which nothing is carried on, s. */
const GAP_S = 0.6

/**
 * The press at each row as a dead time and a first-order lag pass it on, from all that went before. The dead time is
 * negative where the brake signal is written later than the torque that follows it.
 */
export function pressThrough(rows: RegenRows, dead: number, lag: number): Float64Array {
  if (dead === 0 && lag <= 1e-4) return rows.press
  const out = through(rows.past.timeS, rows.past.press, dead, lag)
  const { at } = rows.past
  const picked = new Float64Array(at.length)
  for (let k = 0; k < picked.length; k++) picked[k] = out[at[k]!]!
  return picked
}

/** The whole trace's press as the map gets to see it, after dead time and lag. */
export function arrivedPress(trace: BrakeTrace, dead: number, lag: number): Float64Array {
  return dead === 0 && lag <= 1e-4 ? trace.press : through(trace.timeS, trace.press, dead, lag)
}

function through(timeS: Float64Array, press: Float64Array, dead: number, lag: number): Float64Array {
  const out = new Float64Array(press.length)
  let from = 0
  let state = 0
  let before = 0
  for (let i = 0; i < press.length; i++) {
    const fresh = i === 0 || timeS[i]! - timeS[i - 1]! > GAP_S || !Number.isFinite(state)
    if (fresh) from = i
    const moment = timeS[i]! - dead
    const known = dead < 0 ? press.length - 1 : i
    while (from + 1 < known && timeS[from + 1]! <= moment && timeS[from + 1]! - timeS[from]! <= GAP_S) from++
    const next = from + 1 <= known ? timeS[from + 1]! - timeS[from]! : 0
    const gap = next <= GAP_S ? next : 0
    const share = gap > 0 ? Math.min(1, Math.max(0, (moment - timeS[from]!) / gap)) : 0
    const target = press[from]! + (gap > 0 ? share * (press[from + 1]! - press[from]!) : 0)
    state = fresh || lag <= 1e-4 ? target : lagged(state, before, target, timeS[i]! - timeS[i - 1]!, lag)
    before = target
    out[i] = state
  }
  return out
}
