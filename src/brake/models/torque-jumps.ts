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

/** What press and speed explain of a change of torque. */
export interface Explained {
  /** The press as it arrives, and the steepest that torque may follow it, N·m per unit. */
  readonly press: Float64Array
  readonly slope: number
  /** What the speed alone explains from one sample to another, N·m, signed; null where nothing. */
  readonly faded: ((from: number, to: number) => number) | null
  /** Does what the press explains from end to end come off the change? */
  readonly ends: boolean
}

/**
 * The largest jump at each moment of the presses: over windows of up to 160 ms (two samples at 10 Hz). The most that the
 * press explains in a window is its slope times the widest change of the press around it.
 */
export function torqueJumps(trace: BrakeTrace, noiseNm: number, explained: Explained): Jump[] {
  const { timeS, released } = trace
  const shown = trace.requestNm ?? trace.torqueNm
  const longest = Math.max(2, Math.round(JERK_S / trace.periodS))
  const jumps: Jump[] = []
  for (const [start, end] of trace.applications)
    for (let i = indexAt(timeS, start - 1e-9) + 1; i < timeS.length && timeS[i]! <= end + AFTER_S; i++) {
      if (!(shown[i]! < REGEN_NM) || released[i] !== 1) continue
      const jump = jumpTo(i, i - longest, timeS, shown, released, noiseNm, explained)
      if (jump) jumps.push(jump)
    }
  return jumps
}

/** The largest jump that ends at a sample, looking back to `first` at most; null where nothing is left unexplained. */
function jumpTo(
  i: number,
  first: number,
  timeS: Float64Array,
  shown: Float64Array,
  released: Uint8Array,
  noiseNm: number,
  { press, slope, faded, ends }: Explained,
): Jump | null {
  let sure = 0
  let from = -1
  let nm = 0
  // the press from one sample before the window to one after it: the window grows backwards
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (let k = Math.max(0, i - 1); k <= Math.min(i + 1, press.length - 1); k++) {
    if (press[k]! < low) low = press[k]!
    if (press[k]! > high) high = press[k]!
  }
  for (let j = i - 1; j >= Math.max(1, first); j--) {
    if (!(shown[j]! < REGEN_NM) || released[j] !== 1 || timeS[i]! - timeS[j]! > 2 * JERK_S) break
    if (press[j - 1]! < low) low = press[j - 1]!
    if (press[j - 1]! > high) high = press[j - 1]!
    const change = shown[j]! - shown[i]!
    const byPress = slope * (high - low)
    // most moments end here, before what the speed explains is asked
    if (!(Math.abs(change) - byPress - 3 * noiseNm > sure)) continue
    const bySpeed = faded ? faded(j, i) : 0
    const sureNm = Math.abs(change) - (byPress + Math.abs(bySpeed)) - 3 * noiseNm
    if (!(sureNm > sure)) continue
    sure = sureNm
    from = j
    nm = change - (ends ? slope * (press[i]! - press[j]!) + bySpeed : 0)
  }
  return from < 0 ? null : { from, to: i, sureNm: sure, nm }
}
