import type { Span } from '../../shared/units.ts'

/** Torque of less than this is none; regeneration before and after a change is more than these, N·m. */
const NONE_NM = 2
const BEFORE_NM = 3
const AFTER_NM = 8
/** A change of gear takes this long, s. Common practice, no source. */
const LEAST_S = 0.1
const MOST_S = 2
/** How soon before and after it the motor regenerates, s. */
const BESIDE_S = 0.5
/** The press is not let go meanwhile: it keeps this share. */
const HOLDS = 0.8
/** Torque goes before, and comes back after, s. */
const BEFORE_S = 0.6
const AFTER_S = 1

/**
 * Changes of gear in a log without motor speed: under a held press regeneration goes to nothing and comes back within
 * two seconds. What else lets it go so briefly (slip control, a limit) is no step of the map either.
 * Blind: a change that is not in the middle of a press; a map that lets go and comes back at one pressure.
 */
export function unseenGearChanges(
  timeS: Float64Array,
  torqueNm: Float64Array,
  press: Float64Array,
  begunAt: number,
): Span[] {
  const found: Span[] = []
  for (let i = 1; i < timeS.length; i++) {
    if (!(Math.abs(torqueNm[i]!) < NONE_NM) || !(torqueNm[i - 1]! <= -NONE_NM)) continue
    let to = i
    while (to + 1 < timeS.length && Math.abs(torqueNm[to + 1]!) < NONE_NM) to++
    const [fromS, toS] = [timeS[i]!, timeS[to]!]
    const before = strongest(timeS, torqueNm, fromS - BESIDE_S, fromS)
    const after = strongest(timeS, torqueNm, toS, toS + BESIDE_S)
    if (
      toS - fromS >= LEAST_S &&
      toS - fromS <= MOST_S &&
      before.nm > BEFORE_NM &&
      after.nm > AFTER_NM &&
      press[i]! > begunAt &&
      press.subarray(i, to + 2).every((each) => each > HOLDS * press[i - 1]!)
    )
      found.push([fromS - BEFORE_S, toS + AFTER_S])
    i = to
  }
  return found
}

/** The most regeneration between two moments, N·m, and where. */
function strongest(
  timeS: Float64Array,
  torqueNm: Float64Array,
  fromS: number,
  toS: number,
): { nm: number; at: number } {
  let best = { nm: 0, at: 0 }
  let low = 0
  let high = timeS.length
  while (low < high) {
    const middle = (low + high) >> 1
    if (timeS[middle]! < fromS) low = middle + 1
    else high = middle
  }
  for (let i = low; i < timeS.length && timeS[i]! <= toS; i++)
    if (-torqueNm[i]! > best.nm) best = { nm: -torqueNm[i]!, at: i }
  return best
}
