import type { BrakeTrace } from '../../car/brake-trace.ts'
import { indexAt } from '../../samples/on-one-clock.ts'

/** A change of torque that the press does not explain. Indices into the trace. */
export interface Jump {
  readonly from: number
  readonly to: number
  /** What no press between the two explains, N·m, noise taken off: surely more than nothing. */
  readonly sureNm: number
  /** The change less what the press explains between its ends, N·m, signed (more regeneration positive). */
  readonly nm: number
}

/** What a driver feels as one jerk, through an inverter that slews, s. Common practice, no source. */
const JERK_S = 0.16
/** Slower logs cannot tell a jump from a ramp, s. */
export const STEP_SLOWEST_S = 0.11
/** Torque over this is drive, not regeneration, N·m. */
const REGEN_NM = 2
/** After a press ends its torque is still looked at, s. */
const AFTER_S = 0.3

/**
 * The largest jump at each moment of the presses: over windows of up to 160 ms (two samples at 10 Hz).
 * `explained(from, to)` is the most that press and speed explain between two samples, `between` what they explain from
 * end to end (signed).
 */
export function torqueJumps(
  trace: BrakeTrace,
  noiseNm: number,
  explained: (from: number, to: number) => number,
  between: (from: number, to: number) => number,
): Jump[] {
  const { timeS, released } = trace
  const shown = trace.requestNm ?? trace.torqueNm
  const longest = Math.max(2, Math.round(JERK_S / trace.periodS))
  const jumps: Jump[] = []
  for (const [start, end] of trace.applications) {
    for (let i = indexAt(timeS, start - 1e-9) + 1; i < timeS.length && timeS[i]! <= end + AFTER_S; i++) {
      if (!(shown[i]! < REGEN_NM) || released[i] !== 1) continue
      let best: Jump | null = null
      for (let span = 1; span <= longest && i - span >= 1; span++) {
        const j = i - span
        if (!(shown[j]! < REGEN_NM) || released[j] !== 1 || timeS[i]! - timeS[j]! > 2 * JERK_S) break
        const change = shown[j]! - shown[i]!
        const sureNm = Math.abs(change) - explained(j, i) - 3 * noiseNm
        if (sureNm > 0 && (!best || sureNm > best.sureNm))
          best = { from: j, to: i, sureNm, nm: change - between(j, i) }
      }
      if (best) jumps.push(best)
    }
  }
  return jumps
}

/** Lowest and highest value from one sample before to one after. */
export function rangeAround(values: Float64Array, from: number, to: number): number {
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (let k = Math.max(0, from - 1); k <= Math.min(to + 1, values.length - 1); k++) {
    if (values[k]! < low) low = values[k]!
    if (values[k]! > high) high = values[k]!
  }
  return high - low
}
