import type { PackCurrent } from '../../car/pack-current.ts'
import { indexAt } from '../../samples/on-one-clock.ts'

/** What a clipped current may have been above its range where nothing else tells, as a share. No source. */
const UNSEEN_EXCESS = 0.6
/** Room around what mechanical power says of it. Common practice, no source. */
const ROOM = 1.3

/**
 * Charge that may have flowed beyond the sensor's range, A·s, [discharge, charge]: the time at each end of the range
 * times that end times the share by which the rest of the car puts the current above it.
 */
export function clippedCharge(current: PackCurrent): [number, number] {
  const [charge, discharge] = current.rangeA
  const [below, above] = current.clippedExcess.map((share) =>
    share === null ? UNSEEN_EXCESS : ROOM * share,
  ) as [number, number]
  const sums: [number, number] = [0, 0]
  for (const [from, to] of current.clippedSpans) {
    const down = current.clippedSide[indexAt(current.timeS, from)]! < 0
    sums[down ? 1 : 0] += (down ? below : above) * (to - from) * Math.abs((down ? charge : discharge) ?? 0)
  }
  return sums
}
