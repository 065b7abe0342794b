import { cellCount } from './car.ts'
import type { TruthAt } from './truth-at.ts'

/**
 * Channels that follow from others, as some boxes write them:
 *
 *     lowest, highest, mean cell voltage and the numbers of the two; hottest and coldest sensor
 *     box_voltage.b    sum of the cells of the b-th box
 *     pack_power       pack voltage · current
 *     brake_pressure_front   the line; _rear: the line up to 25 bar, then 0.4 of what is more (a limiter)
 *     brake_travel     12 % · √bar
 *     wheel_speed.1–4  road speed; the driven axle slips by force / (9 · its weight)
 *     pedal_supply_1/2 5 V
 *
 * null for any other id.
 */
export function derived(truth: TruthAt, id: string, atS: ArrayLike<number>): Float64Array | null {
  const { car } = truth.trace
  const of = (other: string): Float64Array => truth.values(other, atS)
  const join = (ids: readonly string[], pick: (all: readonly number[]) => number): Float64Array => {
    const columns = ids.map(of)
    return Float64Array.from(atS, (_, i) => pick(columns.map((column) => column[i]!)))
  }
  const cells = (): string[] => Array.from({ length: cellCount(car) }, (_, k) => `cell_voltage.${k + 1}`)
  const sensors = (): string[] => truth.trace.sensorC.map((_, s) => `module_temperature.${s + 1}`)
  switch (id) {
    case 'lowest_cell_voltage':
      return join(cells(), (all) => Math.min(...all))
    case 'highest_cell_voltage':
      return join(cells(), (all) => Math.max(...all))
    case 'mean_cell_voltage':
      return join(cells(), (all) => all.reduce((sum, volt) => sum + volt, 0) / all.length)
    case 'lowest_cell_number':
      return join(cells(), (all) => all.indexOf(Math.min(...all)) + 1)
    case 'highest_cell_number':
      return join(cells(), (all) => all.indexOf(Math.max(...all)) + 1)
    case 'hottest_temperature':
      return join(sensors(), (all) => Math.max(...all))
    case 'coldest_temperature':
      return join(sensors(), (all) => Math.min(...all))
    case 'pack_power':
      return join(['pack_voltage', 'pack_current'], ([volt, amps]) => volt! * amps!)
    case 'brake_pressure_front':
      return of('brake_pressure')
    case 'brake_pressure_rear':
      return of('brake_pressure').map((bar) => (bar < 25 ? bar : 25 + 0.4 * (bar - 25)))
    case 'brake_travel':
      return of('brake_pressure').map((bar) => Math.min(100, 12 * Math.sqrt(Math.max(0, bar))))
    case 'pedal_supply_1':
    case 'pedal_supply_2':
      return new Float64Array(atS.length).fill(5)
  }
  if (id.startsWith('box_voltage.')) {
    const names = [...new Set(car.pack.boxOfModule)]
    const box = names[Number(id.slice(12)) - 1]
    const { moduleOf } = truth.trace.pack
    const own = cells().filter((_, k) => car.pack.boxOfModule[moduleOf[k]!] === box)
    return join(own, (all) => all.reduce((sum, volt) => sum + volt, 0))
  }
  if (id.startsWith('wheel_speed.')) {
    const front = Number(id.slice(12)) <= 2
    const drivenHere = front === (car.road.drivenAxle === 'front')
    const { gear, wheelRadiusM, massKg } = car.road
    return join(['speed', 'torque'], ([kmh, torque]) => {
      const force = (torque! * gear) / wheelRadiusM
      return drivenHere ? kmh! * (1 + force / (9 * 0.5 * massKg * 9.81)) : kmh!
    })
  }
  return null
}
