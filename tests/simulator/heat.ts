import type { Car } from './car.ts'
import { active, type Fault, faultsOf } from './faults.ts'
import type { Pack } from './pack.ts'
import type { Random } from './random.ts'

/**
 * One heat store a module:
 *
 *     C dT/dt = P − (T − Tw) / Rth − (T − Tair) / Rair
 *
 * P = ohmic, slow-part, joint and link losses inside the module. Tw is the water as it reaches the module: each loop
 * starts at the inlet's temperature and warms by q / (ṁ c) behind each module in turn (quasi-static). The inlet
 * itself is a store of 4 l of water per loop, cooled by a radiator. With the pump off the water path is left out.
 */
export class Heat {
  readonly moduleC: Float64Array
  readonly waterKelvinWatt: Float64Array
  readonly airKelvinWatt: Float64Array
  coolantInC: number
  coolantOutC: number
  inverterC: number
  motorC: number

  constructor(
    private readonly car: Car,
    private readonly faults: readonly Fault[],
    random: Random,
  ) {
    const { heat } = car
    const modules = car.pack.cellsPerModule.length
    this.moduleC = new Float64Array(modules).fill(heat.startC)
    this.waterKelvinWatt = Float64Array.from(
      { length: modules },
      () => heat.moduleKelvinWatt * (1 + heat.coolingSpread * random.normal()),
    )
    for (const { module, factor } of faultsOf(faults, 'cooling')) this.waterKelvinWatt[module - 1]! *= factor
    this.airKelvinWatt = Float64Array.from(
      { length: modules },
      (_, m) => heat.airKelvinWatt / (m === 0 || m === modules - 1 ? heat.endModuleFactor : 1),
    )
    this.coolantInC = heat.startC
    this.coolantOutC = heat.startC
    this.inverterC = heat.startC
    this.motorC = heat.startC
  }

  /** Heat store of a module, J/K: by its cells. */
  jouleKelvin(module: number): number {
    const { heat, pack } = this.car
    return (heat.moduleJouleKelvin * pack.cellsPerModule[module - 1]!) / pack.cellsPerModule[0]!
  }

  /** @param moduleWatt heat made in each module; @param driveWatt losses of inverter and motor. */
  step(dt: number, timeS: number, pump: boolean, moduleWatt: Float64Array, driveWatt: number): void {
    const { heat, pack } = this.car
    let flow = heat.flowWattKelvin
    for (const fault of faultsOf(this.faults, 'coolant-flow')) if (active(fault, timeS)) flow *= fault.share
    let carried = 0
    let out = 0
    const inWater = new Uint8Array(this.moduleC.length)
    for (const loop of heat.coolingOrder) {
      let water = this.coolantInC
      for (const number of loop) {
        const m = number - 1
        inWater[m] = 1
        const size = pack.cellsPerModule[m]! / pack.cellsPerModule[0]!
        const given = pump ? (this.moduleC[m]! - water) / (this.waterKelvinWatt[m]! / size) : 0
        const air = (this.moduleC[m]! - heat.ambientC) / this.airKelvinWatt[m]!
        this.moduleC[m]! += (dt * (moduleWatt[m]! - given - air)) / (heat.moduleJouleKelvin * size)
        if (flow > 1) water += given / flow
        carried += given
      }
      out += water / heat.coolingOrder.length
    }
    for (let m = 0; m < this.moduleC.length; m++)
      if (inWater[m] === 0) {
        const size = pack.cellsPerModule[m]! / pack.cellsPerModule[0]!
        const air = (this.moduleC[m]! - heat.ambientC) / this.airKelvinWatt[m]!
        this.moduleC[m]! += (dt * (moduleWatt[m]! - air)) / (heat.moduleJouleKelvin * size)
      }
    this.coolantOutC = pump ? out : this.coolantOutC + (dt * (this.coolantInC - this.coolantOutC)) / 60
    const radiator = (this.coolantInC - heat.ambientC) * 90
    this.coolantInC +=
      (dt * (carried - (pump ? radiator : radiator * 0.05))) / (16700 * heat.coolingOrder.length)
    const inverterOut = (this.inverterC - this.coolantInC) / 0.018
    const motorOut = (this.motorC - this.coolantInC) / 0.026
    this.inverterC += (dt * (0.35 * driveWatt - inverterOut)) / 6500
    this.motorC += (dt * (0.65 * driveWatt - motorOut)) / 24000
  }
}

/** Heat made in each module by a current: Σ over its cells of ohmic, slow and link losses, in W. */
export class ModuleLosses {
  readonly watt: Float64Array
  /** Sums over each module's cells: ohms at 25 °C, and ohms of joints and links. */
  readonly ohmic: Float64Array
  readonly slow1: Float64Array
  readonly slow2: Float64Array
  readonly link: Float64Array
  private squares = 0
  private squares1 = 0
  private squares2 = 0
  private count = 0

  constructor(
    private readonly pack: Pack,
    modules: number,
  ) {
    const sum = (part: Float64Array): Float64Array => {
      const total = new Float64Array(modules)
      for (let k = 0; k < pack.cells; k++) total[pack.moduleOf[k]!]! += part[k]!
      return total
    }
    this.ohmic = sum(pack.ohmic)
    this.slow1 = sum(pack.slow1)
    this.slow2 = sum(pack.slow2)
    this.link = sum(pack.linkOhm)
    this.watt = new Float64Array(modules)
  }

  add(amps: number, x1: number, x2: number): void {
    this.squares += amps * amps
    this.squares1 += x1 * x1
    this.squares2 += x2 * x2
    this.count++
  }

  /** Mean heat since the last update, with the modules' temperature factors. */
  update(f0: Float64Array, f1: Float64Array, timeS: number): void {
    const n = Math.max(1, this.count)
    const mean = this.squares / n
    for (let m = 0; m < this.watt.length; m++)
      this.watt[m] =
        (f0[m]! * this.ohmic[m]! + this.link[m]!) * mean +
        (f1[m]! * (this.slow1[m]! * this.squares1 + this.slow2[m]! * this.squares2)) / n
    for (const joint of this.pack.faultJoints)
      if (joint.present(timeS)) this.watt[this.pack.moduleOf[joint.cell]!]! += joint.ohm * mean
    this.squares = this.squares1 = this.squares2 = this.count = 0
  }
}
