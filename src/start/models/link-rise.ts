import { LIVE_V } from '../../drive/live-volts.ts'
import type { Facts } from '../../facts/facts.ts'
import { samplesIn } from './start-signals.ts'

/** The link is on its way up from this share of the pack's voltage; no source. */
const RISING_SHARE = 0.2
/** Under this share it had not begun to rise; no source. */
const DOWN_SHARE = 0.1
/** Over this share it is up; no source. */
const UP_SHARE = 0.9

/**
 * A link that a contactor lifts is up within milliseconds; through a precharge resistor it takes at least this, s.
 * Common practice, no source.
 */
const THROUGH_RESISTOR_S = 0.08
/** How far the contactors' rows may lag behind what they say, s. Common practice, no source. */
const LAG_S = 3

/**
 * When a rise through the precharge resistor began that was well on its way by `byS`; null where there is none.
 *
 * Model: two samples or more between 10 and 90 % of `packV` on the way up, at least 80 ms from the last low to the
 * first high one. A welded contactor lifts the link at once and shows none.
 * Reads: link_voltage [V, scaled by `scale`]. Blind: a link read slower than about five times in the rise.
 * Biased by: a filtered link sensor, which makes a jump look like a rise when its time constant is over 40 ms.
 */
export function riseBegunBefore(facts: Facts, byS: number, packV: number, scale: number): number | null {
  const link = facts.drive.channels.get('link_voltage')
  if (!link || !(packV > LIVE_V)) return null
  const before = samplesIn(link, byS - LAG_S, byS)
  const share = before.values.map((v) => (v * scale) / packV)
  if ((share.at(-1) ?? 0) < RISING_SHARE) return null
  const low = share.findLastIndex((v) => v < DOWN_SHARE)
  if (low < 0) return null
  const { timeS, values } = samplesIn(link, before.timeS[low]!, byS + LAG_S)
  const high = values.findIndex((v) => (v * scale) / packV > UP_SHARE)
  const between = high < 0 ? values.length - 1 : high - 1
  if (between < 2 || timeS[between]! - timeS[1]! < THROUGH_RESISTOR_S) return null
  return timeS[0]!
}
