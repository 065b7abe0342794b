import type { Span } from '../../shared/units.ts'
import type { Facts } from '../facts/facts.ts'
import { spansWhere } from '../math/spans.ts'

/** A 5 V supply is up, with room for a sagging one; no source. */
const SUPPLIED_V = 3

/** Settling time of the pedal's supply after key-on that is not judged, s. Common practice, no source. */
const SETTLE_S = 0.5

/**
 * When the pedal has its supply: key on, half a second after it turned. Without a key channel the whole log, less
 * the stretches at either end before the car is first ready or moves (a sensor without supply reads 0 V).
 */
export function poweredSpans(facts: Facts): readonly Span[] {
  const { channels, durationS } = facts.drive
  const whole: Span = [Number.NEGATIVE_INFINITY, durationS + 1]
  const key = channels.get('key_on')
  if (key && key.polarity !== null && key.values.includes(1)) {
    const spans = spansWhere(key.timeS, (i) => key.values[i] === 1)
    const last = key.timeS[key.timeS.length - 1]!
    return spans
      .map(
        ([from, to]): Span => [
          from > key.timeS[0]! ? from + SETTLE_S : from,
          to >= last ? durationS + 1 : to,
        ],
      )
      .filter(([from, to]) => to > from)
  }
  const supplied = channels.get('pedal_supply_1')
  if (supplied) {
    const spans = spansWhere(supplied.timeS, (i) => supplied.values[i]! > SUPPLIED_V)
    if (spans.length > 0) return spans.map(([from, to]): Span => [from + SETTLE_S, to])
  }
  const live = (['drive_ready', 'speed', 'motor_speed'] as const)
    .map((id) => channels.get(id))
    .filter((each) => each !== undefined)
  let from = Number.POSITIVE_INFINITY
  let to = Number.NEGATIVE_INFINITY
  for (const each of live)
    for (let i = 0; i < each.timeS.length; i++)
      if (each.values[i]! >= 1) {
        from = Math.min(from, each.timeS[i]!)
        to = Math.max(to, each.timeS[i]!)
      }
  return from < to ? [[from, to]] : [whole]
}
