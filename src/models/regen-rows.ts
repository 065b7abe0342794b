import { median } from '../math/stats.ts'
import type { BrakeTrace } from './brake-trace.ts'
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
  let run = 0
  let last = Number.NEGATIVE_INFINITY
  let app = 0
  const stride = Math.max(1, Math.ceil(rowsNear(trace) / most))
  for (let i = 0; i < trace.timeS.length; i += stride) {
    const at = trace.timeS[i]!
    while (app < trace.applications.length && trace.applications[app]![1] + AROUND_S[1] < at) app++
    const next = trace.applications[app]
    const usable =
      next !== undefined &&
      at >= next[0] - AROUND_S[0] &&
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

function rowsNear(trace: BrakeTrace): number {
  const seconds = trace.applications.reduce(
    (sum, [from, to]) => sum + to - from + AROUND_S[0] + AROUND_S[1],
    0,
  )
  return seconds / Math.max(trace.periodS, 1e-3)
}

/**
 * Regeneration with both pedals free, N·m: the median over moments with the accelerator at rest for over a second, the
 * brake free and the car above `fastKmh`. Under 2 N·m counts as none. Gives null where the drive hardly coasts.
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
  const typical = median(coasting)
  return typical >= 2 ? typical : 0
}

/** Press of each row `dead` seconds earlier, by a straight line inside the run. */
export function delayedPress(rows: RegenRows, dead: number): Float64Array {
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
