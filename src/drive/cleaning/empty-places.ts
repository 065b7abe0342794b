import type { Vehicle } from '../../../shared/vehicle.ts'
import { extremes, median } from '../../math/stats.ts'
import type { Cleaned } from './clean-channel.ts'

/** A constant this far from the middle of its family is no reading of this pack. Common practice, no source. */
const FAMILIES = [
  { id: 'cell_voltage', word: 'cell', apart: 0.3 },
  { id: 'module_temperature', word: 'temperature sensor', apart: 30 },
] as const
/** Without a vehicle file a last one that never reads may be a fault: only several together are places not fitted. */
const LEAST_TOGETHER = 2

/**
 * A battery unit made for more cells or sensors than the pack has writes its empty places as well: 0 V, 65.535 V, −40 °C
 * for ever. They are recognised at the end of the numbers, where none of them ever gave a believable or a moving
 * reading, and keep their own names: else each would be a fault. What the vehicle file counts is never taken for empty.
 */
export function withoutEmptyPlaces(all: readonly Cleaned[], vehicle: Vehicle): Cleaned[] {
  const whys = new Map<Cleaned, string>()
  for (const { id, word, apart } of FAMILIES) {
    const members = all
      .filter((each) => each.id.startsWith(`${id}.`))
      .map((each) => ({ each, number: Number(each.id.slice(id.length + 1)) }))
      .sort((a, b) => a.number - b.number)
    const counted = id === 'cell_voltage' ? vehicle.pack?.cells : lastSensor(vehicle)
    const middle = median(members.map(({ each }) => median(each.series.values)).filter(Number.isFinite))
    const empty: typeof members = []
    for (const member of members.reverse()) {
      if (member.number <= (counted ?? 0) || !neverRead(member.each.series.values, middle, apart)) break
      empty.push(member)
    }
    if (empty.length === 0 || empty.length === members.length) continue
    if (counted === undefined && empty.length < LEAST_TOGETHER) continue
    const [first, last] = [empty[empty.length - 1]!.number, empty[0]!.number]
    const which = first === last ? `${word} ${first}` : `${word}s ${first} to ${last}`
    for (const { each } of empty)
      whys.set(each, `${which} never gave a reading of this pack: taken as places that are not fitted`)
  }
  return all.map((each) => {
    const why = whys.get(each)
    return why ? { ...each, id: each.series.name, sureness: 0, why, skipped: [] } : each
  })
}

function lastSensor(vehicle: Vehicle): number | undefined {
  const sensors = vehicle.pack?.sensors_of_module?.flat()
  return sensors && sensors.length > 0 ? Math.max(...sensors) : undefined
}

/** No believable value at all, or one and the same far from what the family reads. */
function neverRead(values: Float64Array, middle: number, apart: number): boolean {
  const { low, high } = extremes(values)
  if (Number.isNaN(low)) return true
  return low === high && Math.abs(low - middle) > apart
}

/** The sentence for `assumptions`, once a family. */
export const emptyPlaceNotes = (all: readonly Cleaned[]): string[] => [
  ...new Set(all.filter(({ why }) => why.endsWith('places that are not fitted')).map(({ why }) => why)),
]
