import type { ChannelId } from '../../../shared/channels.ts'
import { catalogueEntry } from '../../../shared/channels.ts'
import { numberText, unitWord } from '../../../shared/wording.ts'
import { channel, type Facts } from '../../facts/facts.ts'
import { within } from '../../math/spans.ts'
import { quantile } from '../../math/stats.ts'
import { linearAt } from '../../samples/on-one-clock.ts'
import { carOn } from '../models/car-on.ts'

/** What a loose or chafed loom goes with: shaking, current and its fields, warmth. Words of the sentence. */
const CONDITIONS: readonly (readonly [id: ChannelId, words: string])[] = [
  ['speed', 'while it went faster than'],
  ['pack_current', 'while the current was over'],
  ['hottest_temperature', 'while the pack was warmer than'],
  ['module_temperature.1', 'while the pack was warmer than'],
  ['inverter_temperature', 'while the inverter was warmer than'],
]
/** Losses nearer than this are one event, s; fewer events show nothing; no source. */
const TOGETHER_S = 2
const FEWEST = 8
/** The upper third of the time on; it must hold three times its share of the rest, beyond chance (1 in 2000). No source. */
const UPPER = 2 / 3
const LEAST_RATIO = 3
const LEAST_SIGMA = 3.5
const GRID_S = 0.5

/**
 * With what do a sender's late and lost frames go along? Events in the upper third (by time with the car on) of speed,
 * current (magnitude) and warmth against what chance puts there (binomial). Empty where nothing stands out, else a
 * sentence that begins with a blank: "27 of 30 came while it went faster than 62 km/h, a third of the time."
 */
export function goesWith(facts: Facts, offAtS: readonly number[]): string {
  const events: number[] = []
  for (const at of offAtS) if (events.length === 0 || at - events.at(-1)! > TOGETHER_S) events.push(at)
  if (events.length < FEWEST) return ''
  let best: { sigma: number; words: string } | null = null
  for (const [id, words] of CONDITIONS) {
    const found = upperThird(facts, id, events)
    if (!found || (best && found.sigma <= best.sigma)) continue
    const { inside, above, sigma } = found
    const unit = unitWord(catalogueEntry(id)!.unit)
    best = {
      sigma,
      words: ` ${inside} of ${events.length} came ${words} ${numberText(above)} ${unit}, a third of the time.`,
    }
  }
  return best?.words ?? ''
}

function upperThird(
  facts: Facts,
  id: ChannelId,
  events: readonly number[],
): { inside: number; above: number; sigma: number } | null {
  const read = channel(facts, id)
  const on = carOn(facts)
  if (!read || !on) return null
  const grid = Float64Array.from({ length: Math.ceil(facts.drive.durationS / GRID_S) }, (_, i) => i * GRID_S)
  const size = (atS: ArrayLike<number>): Float64Array => linearAt(read, atS, 10).map(Math.abs)
  const all = size(grid.filter((at) => within(on, at))).filter(Number.isFinite)
  const above = quantile(all, UPPER)
  const share = all.filter((value) => value > above).length / all.length
  const known = size(events).filter(Number.isFinite)
  if (known.length < FEWEST || !(share > 0.1 && share < 0.5)) return null
  const inside = known.filter((value) => value > above).length
  const expected = share * known.length
  const sigma = (inside - expected) / Math.sqrt(expected * (1 - share))
  const ratio = inside / share / Math.max((known.length - inside) / (1 - share), 1e-9)
  return sigma > LEAST_SIGMA && ratio > LEAST_RATIO ? { inside, above, sigma } : null
}
