import { active, type Fault, faultsOf } from '../faults.ts'
import type { Random } from '../random.ts'
import type { Build } from './build.ts'
import { CHEMISTRIES } from './chemistry.ts'

/** Step of the heat, s. */
export const HEAT_STEP_S = 0.5
/** Share of a module's heat store that is its core, and J/(kg K) of cells (NMC 1040, LFP 1130: checks.md H3). */
const CORE = 0.85
const JOULE_KG_K = { nmc: 1040, lfp: 1130 }

/**
 * Two nodes a module, and coolant that runs from module to module:
 *
 *     Cc dTc/dt = Pcells − (Tc − Ts) / Rc
 *     Cs dTs/dt = Plinks + (Tc − Ts) / Rc − (Ts − Tw) / Rp − (Ts − Tair) / Ra
 *
 * Tw rises by what the module gave over the flow before it reaches the next (quasi-static). All plates begin at the
 * inlet's temperature: a store of 6 l cooled by a radiator whose fan runs between 29 and 32 °C. Pump off: no Rp.
 */
export class TwoNodeHeat {
  readonly coreC: Float64Array
  readonly surfaceC: Float64Array
  /** Water as it reaches each module. */
  readonly waterC: Float64Array
  readonly coreKelvinWatt: Float64Array
  readonly plateKelvinWatt: Float64Array
  readonly coreJouleK: Float64Array
  readonly surfaceJouleK: Float64Array
  inC: number
  outC: number
  inverterC: number
  motorC: number
  private fan = false

  constructor(
    private readonly build: Build,
    private readonly faults: readonly Fault[],
    random: Random,
  ) {
    const { heat, cells } = build
    const { kgPerAh } = CHEMISTRIES[cells.chemistry]
    const kg = cells.perModule.map((count) => count * cells.capacityAh * kgPerAh)
    const each = (of: (kg: number, m: number) => number): Float64Array => Float64Array.from(kg, of)
    this.coreJouleK = each((mass) => CORE * mass * JOULE_KG_K[cells.chemistry])
    this.surfaceJouleK = each((mass) => (1 - CORE) * mass * JOULE_KG_K[cells.chemistry])
    this.coreKelvinWatt = each((mass) => ((heat.coreKelvinWatt * 14) / mass) * (1 + 0.01 * random.normal()))
    this.plateKelvinWatt = each(
      (mass) => ((heat.plateKelvinWatt * 14) / mass) * (1 + heat.spread * random.normal()),
    )
    for (const { module, factor } of faultsOf(faults, 'cooling')) this.plateKelvinWatt[module - 1]! *= factor
    this.coreC = each(() => heat.startC + 0.15 * random.normal())
    this.surfaceC = this.coreC.slice()
    this.waterC = each(() => heat.startC)
    this.inC = this.outC = this.inverterC = this.motorC = heat.startC
  }

  /** @param cellWatt and linkWatt heat made in each module; @param driveWatt losses of inverter and motor. */
  step(
    dt: number,
    timeS: number,
    pump: boolean,
    cellWatt: Float64Array,
    linkWatt: Float64Array,
    driveWatt: number,
  ): void {
    const { heat } = this.build
    let flow = heat.flowWattKelvin
    for (const fault of faultsOf(this.faults, 'coolant-flow')) if (active(fault, timeS)) flow *= fault.share
    let carried = 0
    let out = 0
    const last = this.coreC.length - 1
    for (const loop of heat.loops) {
      let water = this.inC
      for (const number of loop) {
        const m = number - 1
        this.waterC[m] = water
        const inward = (this.coreC[m]! - this.surfaceC[m]!) / this.coreKelvinWatt[m]!
        const given = pump ? (this.surfaceC[m]! - water) / this.plateKelvinWatt[m]! : 0
        const air =
          ((this.surfaceC[m]! - heat.ambientC) / heat.airKelvinWatt) * (m === 0 || m === last ? 1.5 : 1)
        this.coreC[m]! += (dt * (cellWatt[m]! - inward)) / this.coreJouleK[m]!
        this.surfaceC[m]! += (dt * (linkWatt[m]! + inward - given - air)) / this.surfaceJouleK[m]!
        if (flow > 1) water += given / flow
        carried += given
      }
      out += water / heat.loops.length
    }
    if (this.inC > 32) this.fan = true
    else if (this.inC < 29) this.fan = false
    const radiator = (this.inC - heat.ambientC) * (pump ? (this.fan ? 260 : 110) : 4)
    this.inC += (dt * (carried - radiator)) / 25_000
    this.outC = pump ? out : this.outC + (dt * (this.inC - this.outC)) / 80
    this.inverterC += (dt * (0.4 * driveWatt - (this.inverterC - this.inC) / 0.02)) / 7000
    this.motorC += (dt * (0.6 * driveWatt - (this.motorC - this.inC) / 0.03)) / 30_000
  }
}
