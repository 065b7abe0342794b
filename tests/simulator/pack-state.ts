import type { Car } from './car.ts'
import type { ModuleLosses } from './heat.ts'
import { arrhenius, type Pack, sumOpenCircuit } from './pack.ts'

/**
 * The pack as one source while the drive runs: E = Σ U(s_k) − slow parts, R = Σ cells + links + joints. Slow parts
 * follow by exact first-order steps for a current that stands still within a step; Σ U is renewed every 0.1 s.
 */
export class PackState {
  x1 = 0
  x2 = 0
  dischargedAh = 0
  openCircuit: number
  /** Ohms now: cells' ohmic parts, slow parts, joints and links (fault joints present now included). */
  cellsOhm = 0
  slow1Ohm = 0
  slow2Ohm = 0
  linksOhm = 0
  readonly f0: Float64Array
  readonly f1: Float64Array
  private readonly decay1: number
  private readonly decay2: number
  private readonly plainLinksOhm: number
  private steps = 0

  constructor(
    private readonly car: Car,
    readonly pack: Pack,
    private readonly losses: ModuleLosses,
    dt: number,
  ) {
    this.f0 = new Float64Array(losses.watt.length)
    this.f1 = new Float64Array(losses.watt.length)
    this.decay1 = Math.exp(-dt / car.pack.slowS[0])
    this.decay2 = Math.exp(-dt / car.pack.slowS[1])
    this.plainLinksOhm = losses.link.reduce((a, b) => a + b, 0)
    this.openCircuit = sumOpenCircuit(car, pack, 0, 0)
  }

  warm(moduleC: Float64Array): void {
    this.cellsOhm = this.slow1Ohm = this.slow2Ohm = 0
    for (let m = 0; m < moduleC.length; m++) {
      this.f0[m] = arrhenius(this.car.pack.ohmicArrheniusK, moduleC[m]!)
      this.f1[m] = arrhenius(this.car.pack.slowArrheniusK, moduleC[m]!)
      this.cellsOhm += this.f0[m]! * this.losses.ohmic[m]!
      this.slow1Ohm += this.f1[m]! * this.losses.slow1[m]!
      this.slow2Ohm += this.f1[m]! * this.losses.slow2[m]!
    }
  }

  joints(timeS: number): void {
    this.linksOhm = this.plainLinksOhm
    for (const joint of this.pack.faultJoints) if (joint.present(timeS)) this.linksOhm += joint.ohm
  }

  /** Voltage with no current now. */
  get inside(): number {
    return this.openCircuit - this.slow1Ohm * this.x1 - this.slow2Ohm * this.x2
  }

  /** Current that a load P behind `pathOhm` draws: I = (E − √(E² − 4 R P)) / 2R. */
  currentFor(watt: number, pathOhm: number): number {
    const ohm = this.cellsOhm + this.linksOhm + pathOhm
    const inside = this.inside
    return (inside - Math.sqrt(Math.max(0, inside * inside - 4 * ohm * watt))) / (2 * ohm)
  }

  step(dt: number, amps: number): void {
    this.x1 = amps + (this.x1 - amps) * this.decay1
    this.x2 = amps + (this.x2 - amps) * this.decay2
    this.dischargedAh += (amps * dt) / 3600
    if (++this.steps % 10 === 0)
      this.openCircuit = sumOpenCircuit(this.car, this.pack, this.dischargedAh, this.steps * dt)
  }

  /** Energy in the slow parts' capacitors, J: τ R x² / 2. */
  get slowStoreJ(): number {
    const [tau1, tau2] = this.car.pack.slowS
    return (this.slow1Ohm * tau1 * this.x1 * this.x1 + this.slow2Ohm * tau2 * this.x2 * this.x2) / 2
  }
}
