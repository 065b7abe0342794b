import type { Car } from './car.ts'
import { type Fault, faultsOf } from './faults.ts'

/**
 * The DC link: capacitor C with a bleed resistor (and, as a fault, a load) across it.
 *
 *     precharge closed:  dV/dt = (V∞ − V) / τ,   V∞ = Vp R∥ / (R∥ + R),   τ = C (R ∥ R∥)
 *     open:              V falls by exp(−t / (R∥ C)); with nothing closed on purpose the inverter adds 1.2 kΩ
 *     and loads:         ½ C V² falls by their power · dt
 *     main closed:       V is the pack's, less the path; the charge still missing flows within the step
 *
 * R∥ = bleed and load in parallel. The steps are exact for a pack voltage that stands still within a step.
 */
export class Link {
  volt = 0
  /** Ohms of a load across the link; infinite without. */
  readonly loadOhm: number
  private readonly prechargeOpen: boolean
  private readonly acrossOhm: number

  constructor(
    private readonly car: Car,
    faults: readonly Fault[],
  ) {
    const loads = [...faultsOf(faults, 'precharge-load'), ...faultsOf(faults, 'precharge-short')]
    this.loadOhm =
      loads.length > 0 ? 1 / loads.reduce((sum, load) => sum + 1 / load.ohm, 0) : Number.POSITIVE_INFINITY
    this.prechargeOpen = faultsOf(faults, 'precharge-open').length > 0
    this.acrossOhm = 1 / (1 / car.precharge.bleedOhm + 1 / this.loadOhm)
  }

  /** Where the precharge ends, as a share of the pack's voltage, and its time constant. */
  get aim(): { share: number; tauS: number } {
    const { resistorOhm, linkFarad } = this.car.precharge
    return {
      share: this.acrossOhm / (this.acrossOhm + resistorOhm),
      tauS: linkFarad / (1 / resistorOhm + 1 / this.acrossOhm),
    }
  }

  /** Precharge relay closed, main contactor open. Returns the mean current out of the pack, A. */
  precharge(dt: number, packVolt: number): number {
    if (this.prechargeOpen) {
      this.discharge(dt, false)
      return 0
    }
    const { share, tauS } = this.aim
    const before = this.volt
    this.volt = packVolt * share + (before - packVolt * share) * Math.exp(-dt / tauS)
    return (packVolt - (before + this.volt) / 2) / this.car.precharge.resistorOhm
  }

  /** No path to the pack; `watt` still drawn by inverter and DC-DC (negative: braking into the link). */
  discharge(dt: number, inverterHelps: boolean, watt = 0): void {
    const { linkFarad } = this.car.precharge
    const ohm = inverterHelps ? 1 / (1 / this.acrossOhm + 1 / 1200) : this.acrossOhm
    this.volt *= Math.exp(-dt / (ohm * linkFarad))
    if (watt !== 0) this.volt = Math.sqrt(Math.max(0, this.volt * this.volt - (2 * watt * dt) / linkFarad))
  }

  /** Main path closed: follows `volt`. Returns the mean current that fills the capacitor, A. */
  follow(dt: number, volt: number): number {
    const amps = (this.car.precharge.linkFarad * (volt - this.volt)) / dt
    this.volt = volt
    return amps
  }

  /** Steady current of bleed and load at this voltage. */
  get leakA(): number {
    return this.volt / this.acrossOhm
  }
}
