import { catalogueEntry } from '../../shared/channels.ts'
import type { Channel } from '../../shared/drive.ts'
import type { Span } from '../../shared/units.ts'
import type { Facts } from '../facts/facts.ts'
import { spansWhere } from '../math/spans.ts'

const GEAR = /(^|[^a-zäéèà])(gear|gang|gänge|rapport|vitesse)([^a-zäéèà]|$)/i
/** The driver's lever, not the box; or a figure about gears that is none. */
const OTHER = /lever|selector|shifter|hebel|wahl|wähl|temp|ratio|oil|öl|request|target|soll|wunsch/i
const MOST_GEARS = 10

/** The column that says which gear is in, kept under its own name: whole numbers, 0 or below where none is; null without. */
export function gearChannel(facts: Facts): Channel | null {
  for (const each of facts.drive.channels.values()) {
    const name = each.id.replace(/([a-z])([A-Z])/g, '$1 $2').replace(/_/g, ' ')
    if (catalogueEntry(each.id) || each.labels || !GEAR.test(name) || OTHER.test(name)) continue
    const gears = new Set(each.values.filter(Number.isFinite))
    const whole = [...gears].every((gear) => Number.isInteger(gear) && Math.abs(gear) <= MOST_GEARS)
    if (whole && [...gears].filter((gear) => gear > 0).length > 1) return each
  }
  return null
}

/** Where no forward gear is in: neutral, or between two gears. */
export function outOfGear({ timeS, values }: Channel): Span[] {
  return spansWhere(timeS, (i) => !(values[i]! > 0))
}
