import { median } from '../math/stats.ts'

/** A press moves the reading by more than this share of its whole range. Common practice, no source. */
const PRESS_SHARE = 0.03
/** A log that begins within this share of the released edge may begin released; farther off it begins pressed. */
const NEAR_EDGE_SHARE = 0.1
const LEAST_READINGS = 3

/**
 * What the pedal reads when nobody touches it, by the readings before its first press: a reading that drifts later
 * must not teach its own end. Null where the log begins with the pedal pressed, or with too few readings to tell.
 *
 *     ───────────╮   ╭──     the readings left of the first press count, all others do not
 *                ╰───╯
 *
 * @param raw readings in the order of the log
 * @param edge where it rests by all readings of the drive, only to tell a start with the pedal pressed
 * @param upward does a press raise the reading?
 */
export function restBeforePress(
  raw: ArrayLike<number>,
  edge: number,
  range: number,
  upward: boolean,
): number | null {
  let first = 0
  while (first < raw.length && !Number.isFinite(raw[first])) first++
  const start = median(Array.prototype.slice.call(raw, first, first + 5))
  if (!Number.isFinite(start)) return null
  const pressed = upward ? start - edge : edge - start
  if (pressed > NEAR_EDGE_SHARE * range) return null
  let end = first
  while (end < raw.length && !(Math.abs(raw[end]! - start) > PRESS_SHARE * range)) end++
  return end - first < LEAST_READINGS ? null : median(Array.prototype.slice.call(raw, first, end))
}
