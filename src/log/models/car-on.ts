import type { Channel } from '../../../shared/drive.ts'
import type { Span } from '../../../shared/units.ts'
import { MOVING_KMH } from '../../drive/motion.ts'
import type { Facts } from '../../facts/facts.ts'
import { overlap, spansWhere } from '../../math/spans.ts'
import { heldAt, indexAt } from '../../samples/on-one-clock.ts'

/** The key's spans of drive time, held between its samples; without a key, when the car is ready or moves. */
export function carOn(facts: Facts): readonly Span[] | null {
  const { channels } = facts.drive
  const key = channels.get('key_on')
  if (key && key.polarity !== null) return switchOn(key)
  const ready = channels.get('drive_ready')
  if (ready && ready.polarity !== null) return switchOn(ready)
  const speed = channels.get('speed')
  return speed ? spansWhere(speed.timeS, (i) => Math.abs(speed.values[i]!) > MOVING_KMH) : null
}

function switchOn(channel: Channel): Span[] {
  let last = Number.NaN
  return spansWhere(channel.timeS, (i) => {
    if (!Number.isNaN(channel.values[i]!)) last = channel.values[i]!
    return last === 1
  })
}

/** Longest part of a span in which the car was on; null where it never was. */
export function longestOn(span: Span, on: readonly Span[]): Span | null {
  let best: Span | null = null
  for (const part of overlap([span], on)) if (!best || part[1] - part[0] > best[1] - best[0]) best = part
  return best
}

/** Did a switch hold the same value before and after a moment, as far as it is logged? */
export function unchangedAround(channel: Channel | undefined, atS: number, aroundS: number): boolean {
  if (!channel) return true
  const [before, after] = heldAt(channel, [atS - aroundS, atS + aroundS])
  return !(before !== after && !Number.isNaN(before!) && !Number.isNaN(after!))
}

/** Did the car move in the last sample before, or the first after, a stretch? false where no speed tells. */
export function movedBeside(facts: Facts, [from, to]: Span): boolean {
  const speed = facts.drive.channels.get('speed')
  if (!speed) return false
  const before = indexAt(speed.timeS, from)
  const after = before + 1
  const near = (i: number, moment: number): boolean =>
    i >= 0 &&
    i < speed.timeS.length &&
    Math.abs(speed.timeS[i]! - moment) < 2 &&
    Math.abs(speed.values[i]!) > MOVING_KMH
  return near(before, from) || near(indexAt(speed.timeS, to), to) || near(after, to)
}
