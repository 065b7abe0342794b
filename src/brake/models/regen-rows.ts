import type { BrakeTrace } from '../../car/brake-trace.ts'
import { jitter } from '../../math/jitter.ts'
import { picked } from '../../math/picked.ts'
import { quantile } from '../../math/stats.ts'
import { type Response, respond } from './press-response.ts'
import type { LimitMarks } from './regen-limits.ts'

/** Samples from which the map is read, in runs without a break. */
export interface RegenRows {
  readonly timeS: Float64Array
  /** Press in the input's unit. */
  readonly press: Float64Array
  readonly kmh: Float64Array
  /** Slowing torque, positive. */
  readonly nm: Float64Array
  /** Number of the run; a new one wherever samples are missing. */
  readonly run: Int32Array
  /** Number of the brake application that the row belongs to. */
  readonly application: Int32Array
  /** What could hold regeneration back there (`LimitMarks.suspect`). */
  readonly suspect: Uint8Array
  /** The press without the gaps that the accelerator leaves, and each row's place in it: what a lag has seen. */
  readonly past: { readonly timeS: Float64Array; readonly press: Float64Array; readonly at: Int32Array }
}

/** Before a press begins and after it ends, so much is looked at too, s. */
const AROUND_S = [1, 0.5] as const
const SLOWEST_KMH = 0.5

/**
 * Runs of moments that show the map: accelerator at rest, moving, nothing surely limiting, near a press; thinned to
 * about `most` rows. Torque is the request where it is logged.
 */
export function regenRows(trace: BrakeTrace, limits: LimitMarks | null, most: number): RegenRows {
  const shown = trace.requestNm ?? trace.torqueNm
  const keep: number[] = []
  const runs: number[] = []
  const presses: number[] = []
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
      trace.kmh[i]! > SLOWEST_KMH &&
      Number.isFinite(shown[i]) &&
      (limits === null || limits.cause[i] === 0)
    if (!usable) continue
    if (last !== i - stride) run++
    keep.push(i)
    places.push(seen.length - 1)
    runs.push(run)
    presses.push(app)
    last = i
  }
  const pick = (values: Float64Array): Float64Array => picked(values, keep)
  return {
    timeS: pick(trace.timeS),
    press: pick(trace.press),
    kmh: pick(trace.kmh),
    nm: pick(shown).map((nm) => -nm),
    run: Int32Array.from(runs),
    application: Int32Array.from(presses),
    suspect: Uint8Array.from(keep, (i) => limits?.suspect[i] ?? 0),
    past: {
      timeS: picked(trace.timeS, seen),
      press: picked(trace.press, seen),
      at: Int32Array.from(places),
    },
  }
}

/** The rows for which `keep` holds; a run that loses rows goes on as several. */
export function rowsWhere(rows: RegenRows, keep: (i: number) => boolean): RegenRows {
  const at: number[] = []
  const run: number[] = []
  let number = 0
  for (let i = 0; i < rows.nm.length; i++) {
    if (!keep(i)) continue
    const before = at[at.length - 1]
    if (before !== i - 1 || rows.run[i] !== rows.run[i - 1]) number++
    at.push(i)
    run.push(number)
  }
  const pick = <T extends Float64Array | Int32Array | Uint8Array>(values: T): T =>
    values.filter((_, i) => keep(i)) as T
  return {
    timeS: pick(rows.timeS),
    press: pick(rows.press),
    kmh: pick(rows.kmh),
    nm: pick(rows.nm),
    run: Int32Array.from(run),
    application: pick(rows.application),
    suspect: pick(rows.suspect),
    past: { ...rows.past, at: pick(rows.past.at) },
  }
}

function rowsNear(trace: BrakeTrace): number {
  const seconds = trace.applications.reduce(
    (sum, [from, to]) => sum + to - from + AROUND_S[0] + AROUND_S[1],
    0,
  )
  return seconds / Math.max(trace.periodS, 1e-3)
}

/** The press at each row as dead time, lag and play pass it on. */
export function pressThrough(rows: RegenRows, response: Omit<Response, 'lagOn'>): Float64Array {
  const out = respond(rows.past.timeS, rows.past.press, response)
  if (out === rows.past.press) return rows.press
  const { at } = rows.past
  const arrived = new Float64Array(at.length)
  for (let i = 0; i < at.length; i++) arrived[i] = out[at[i]!]!
  return arrived
}

/** With both pedals free for so long the lift-off torque stands, s. */
const FREE_S = 0.7
/** Coasting for less time than this shows nothing, s and samples. */
const COAST_S = 0.5
const COAST_SAMPLES = 5
/** Under this a lift-off torque is none, N·m. */
export const LEAST_LIFT_NM = 2

/** Drive torque with both pedals free above this speed is cruise control's, N·m and km/h. Common practice, no source. */
const CRUISE_NM = 2
const CRUISE_KMH = 15
/** So is a speed that stays within this for so long, km/h and s: a coasting car slows. Common practice, no source. */
const HELD_KMH = 0.6
const HELD_S = 4

/** Moments with both pedals free, cruise control's left out: speed and slowing torque there. */
export function coasting(trace: BrakeTrace): { kmh: Float64Array; nm: Float64Array; timeS: Float64Array } {
  const shown = trace.requestNm ?? trace.torqueNm
  const keep: number[] = []
  let spell: number[] = []
  let since = Number.POSITIVE_INFINITY
  const close = (): void => {
    if (!cruised(trace, shown, spell)) keep.push(...spell)
    spell = []
  }
  for (let i = 0; i < trace.timeS.length; i++) {
    const free = trace.released[i] === 1 && trace.press[i]! < trace.begunAt / 2
    if (!free && spell.length > 0) close()
    since = free ? Math.min(since, trace.timeS[i]!) : Number.POSITIVE_INFINITY
    if (trace.timeS[i]! - since >= FREE_S && trace.kmh[i]! > SLOWEST_KMH && Number.isFinite(shown[i]))
      spell.push(i)
  }
  close()
  return {
    kmh: picked(trace.kmh, keep),
    nm: Float64Array.from(keep, (i) => -shown[i]!),
    timeS: picked(trace.timeS, keep),
  }
}

/** Did something else than the pedals hold the speed while both were free? */
function cruised({ kmh, timeS }: BrakeTrace, shown: Float64Array, spell: readonly number[]): boolean {
  let from = 0
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  let drives = 0
  for (const [k, i] of spell.entries()) {
    if (!(kmh[i]! > CRUISE_KMH)) break
    if (shown[i]! > CRUISE_NM && ++drives >= COAST_SAMPLES) return true
    low = Math.min(low, kmh[i]!)
    high = Math.max(high, kmh[i]!)
    if (high - low > HELD_KMH) {
      from = k
      low = high = kmh[i]!
    }
    if (timeS[i]! - timeS[spell[from]!]! > HELD_S) return true
  }
  return false
}

/**
 * Regeneration with both pedals free, N·m: the 80 % quantile above `fastKmh`. Under 2 N·m counts as none. A foot that
 * rests on the pedal holds part of it back, hence not the median. Gives null where the drive hardly coasts.
 */
export function liftRegeneration(trace: BrakeTrace, fastKmh: number): number | null {
  const { kmh, nm } = coasting(trace)
  const fast = nm.filter((_, i) => kmh[i]! > fastKmh)
  if (fast.length * trace.periodS < COAST_S || fast.length < COAST_SAMPLES) return null
  // the quantile of readings lies above that of what they read, by their noise
  const typical = quantile(fast, 0.8) - 0.84 * jitter(fast)
  return typical >= LEAST_LIFT_NM ? typical : 0
}
