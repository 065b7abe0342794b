import { brakeTrace } from '../../car/brake-trace.ts'
import type { Facts } from '../../facts/facts.ts'
import { mean, standardDeviation } from '../../math/stats.ts'
import { brakeSplit } from './brake-split.ts'

/** Fewer windows after a press, or elsewhere, give no mean; no source. */
const FEWEST_AFTER = 8
/** Fewer windows elsewhere give no mean; no source. */
const FEWEST_ELSEWHERE = 20

/** Deceleration left over in the seconds after the brake is released, beyond road load and torque, m/s². */
export interface BrakeDrag {
  readonly dragMs2: number
  readonly plusMinusMs2: number
  readonly releases: number
}

/** Pads that do not let go do so in the first seconds after a release, s. Common practice, no source. */
const AFTER_S = 5

/**
 * Mean of what the split leaves unexplained in the windows within five seconds after a release, less its mean in all
 * other windows without brake. Null under 8 such windows.
 */
export function brakeDrag(facts: Facts): BrakeDrag | null {
  const split = facts.once(brakeSplit)
  const trace = facts.once(brakeTrace)
  if (!split || !trace || trace.input === 'none') return null
  const after: number[] = []
  const other: number[] = []
  let next = 0
  let releases = 0
  for (let i = 0; i < split.left.fromS.length; i++) {
    const from = split.left.fromS[i]!
    while (next < trace.applications.length && trace.applications[next]![1] <= from) next++
    const last = trace.applications[next - 1]
    const coming = trace.applications[next]
    const clear = (!last || from > last[1] + 0.3) && (!coming || from + split.windowS < coming[0])
    if (!clear) continue
    if (last && from - last[1] < AFTER_S) {
      after.push(-split.left.ms2[i]!)
      releases++
    } else other.push(-split.left.ms2[i]!)
  }
  if (after.length < FEWEST_AFTER || other.length < FEWEST_ELSEWHERE) return null
  return {
    dragMs2: mean(after) - mean(other),
    plusMinusMs2:
      1.96 *
      2 *
      Math.hypot(
        standardDeviation(after) / Math.sqrt(after.length),
        standardDeviation(other) / Math.sqrt(other.length),
      ),
    releases,
  }
}
