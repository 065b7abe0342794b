import type { MapTable as ReviewedTable } from '../../../shared/review.ts'
import { aboveFades, bendsOf, brakePartNm, ramp, type SlowingMap, slowingNm } from './slowing-map.ts'

/** A map as a table to type in: straight between its points. */
export type MapTable = Omit<ReviewedTable, 'up_to_bar'>

/** Controllers take so many points. Issue 17. */
const FEWEST = 5
const MOST = 12
/** Two points beside a jump stand so far apart, bar. */
const BESIDE_BAR = 0.1
const ABOVE_FADES_KMH = 5

/** Points from no press to `upTo` bar: the map's bends, either side of its jump, and others between them. */
export function mapTable(map: SlowingMap, upTo: number, controllerMaxNm: number | null): MapTable {
  const fast = aboveFades(map) + ABOVE_FADES_KMH
  const bars = new Set([0, upTo, ...bendsOf(map, fast).filter((bar) => bar < upTo)].map(tenth))
  if (map.step && map.step.at < upTo) bars.add(tenth(Math.max(0, map.step.at - BESIDE_BAR)))
  if (map.form === 'replaces') bars.add(tenth(map.start + BESIDE_BAR))
  const fill = (): void => {
    const sorted = [...bars].sort((a, b) => a - b)
    let widest = 0
    for (let k = 1; k < sorted.length; k++)
      if (sorted[k]! - sorted[k - 1]! > sorted[widest + 1]! - sorted[widest]!) widest = k - 1
    bars.add(tenth((sorted[widest]! + sorted[widest + 1]!) / 2))
  }
  for (let guard = 0; bars.size < FEWEST && guard < MOST; guard++) fill()
  const pressure = [...bars]
    .sort((a, b) => a - b)
    .slice(0, MOST)
    .map((bar) => {
      const brake = tenth(brakePartNm(map, bar, fast))
      return {
        bar,
        total_nm: tenth(slowingNm(map, bar, fast)),
        brake_nm: brake,
        percent: controllerMaxNm ? tenth((100 * brake) / controllerMaxNm) : null,
      }
    })
  const [low, high] = map.fade
  const kmh = [0, low, low + (high - low) / 2, high, Math.max(high + 10, 2 * high)]
  return {
    pressure,
    fade: kmh.map((v) => ({ kmh: tenth(v), percent: tenth(100 * ramp(v, low, high)) })),
    error_nm: errorOf(map, pressure, fast),
  }
}

function errorOf(map: SlowingMap, points: MapTable['pressure'], fast: number): number {
  let worst = 0
  for (let k = 1; k < points.length; k++) {
    const [a, b] = [points[k - 1]!, points[k]!]
    // within the two points beside a jump the table is meant to depart
    if (b.bar - a.bar <= BESIDE_BAR + 1e-9) continue
    for (let share = 0.1; share < 1; share += 0.1) {
      const bar = a.bar + share * (b.bar - a.bar)
      const table = a.brake_nm + share * (b.brake_nm - a.brake_nm)
      worst = Math.max(worst, Math.abs(table - brakePartNm(map, bar, fast)))
    }
  }
  return worst
}

const tenth = (value: number): number => Math.round(value * 10) / 10
