import type { Car } from './car.ts'
import type { Heat } from './heat.ts'
import type { Random } from './random.ts'
import { HEAT_STEP_S } from './trace.ts'

/**
 * What the temperature sensors follow: `cell` the module, `busbar` the module and its losses, `plate` halfway to the
 * water, `air` halfway to the room; each 6 s late, with a constant error of its own (0.35 K).
 */
export class HeatLog {
  readonly moduleC: Float64Array[]
  readonly sensorC: Float64Array[]
  readonly coolantInC: Float64Array
  readonly coolantOutC: Float64Array
  readonly inverterC: Float64Array
  readonly motorC: Float64Array
  private readonly error: Float64Array
  private length = 0

  constructor(
    private readonly car: Car,
    private readonly heat: Heat,
    room: number,
    random: Random,
  ) {
    const modules = car.pack.cellsPerModule.length
    const sensors = modules * car.heat.sensorsPerModule
    const rows = (count: number): Float64Array[] =>
      Array.from({ length: count }, () => new Float64Array(room))
    this.moduleC = rows(modules)
    this.sensorC = rows(sensors)
    this.error = Float64Array.from({ length: sensors }, () => 0.35 * random.normal())
    const [water, back, inverter, motor] = rows(4)
    this.coolantInC = water!
    this.coolantOutC = back!
    this.inverterC = inverter!
    this.motorC = motor!
  }

  record(moduleWatt: Float64Array): void {
    const at = this.length++
    const { heat } = this
    for (let m = 0; m < this.moduleC.length; m++) this.moduleC[m]![at] = heat.moduleC[m]!
    for (let s = 0; s < this.sensorC.length; s++) {
      const aim = this.seen(s, moduleWatt) + this.error[s]!
      const before = at > 0 ? this.sensorC[s]![at - 1]! : aim
      this.sensorC[s]![at] = before + (aim - before) * (1 - Math.exp(-HEAT_STEP_S / 6))
    }
    this.coolantInC[at] = heat.coolantInC
    this.coolantOutC[at] = heat.coolantOutC
    this.inverterC[at] = heat.inverterC
    this.motorC[at] = heat.motorC
  }

  private seen(sensor: number, moduleWatt: Float64Array): number {
    const { sensorsPerModule, sensorPlaces, ambientC } = this.car.heat
    const m = Math.floor(sensor / sensorsPerModule)
    const module = this.heat.moduleC[m]!
    const place = sensorPlaces[(sensor % sensorsPerModule) % sensorPlaces.length]
    if (place === 'plate') return 0.5 * (module + this.heat.coolantInC)
    if (place === 'air') return 0.5 * (module + ambientC)
    return place === 'busbar' ? module + 0.015 * moduleWatt[m]! : module
  }

  /** The part of a list that was recorded. */
  cut(values: Float64Array): Float64Array {
    return values.subarray(0, this.length)
  }
}
