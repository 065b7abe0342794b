import type { Car } from './car.ts'
import { type Fault, faultsOf } from './faults.ts'
import type { PackState } from './pack-state.ts'

/**
 * What the battery unit allows, A. The mean cell must stay within its voltages with its resistance of some tens of
 * seconds (ohmic, joints, first slow part), 15 % spared; charging falls off below 10 °C and is nothing at 0 °C:
 *
 *     charge    = min( rated, 0.85 (Vmax − U) / R ) · clamp(T / 10 °C)
 *     discharge = min( rated, 0.85 (U − Vmin) / R )
 */
export class CurrentLimits {
  chargeA = 0
  dischargeA = 0
  private readonly ratedChargeA: number

  constructor(
    private readonly car: Car,
    faults: readonly Fault[],
  ) {
    this.ratedChargeA = Math.min(
      car.pack.chargeLimitA,
      ...faultsOf(faults, 'regen-limited').map((fault) => fault.amps),
    )
  }

  update(state: PackState, coldestC: number): void {
    const { voltMin, voltMax, dischargeLimitA } = this.car.pack
    const { cells } = state.pack
    const volt = state.openCircuit / cells
    const ohm = (state.cellsOhm + state.slow1Ohm + state.linksOhm) / cells
    const warm = Math.max(0, Math.min(1, coldestC / 10))
    this.chargeA = Math.round(
      warm * Math.max(0, Math.min(this.ratedChargeA, (0.85 * (voltMax - volt)) / ohm)),
    )
    this.dischargeA = Math.round(Math.max(0, Math.min(dischargeLimitA, (0.85 * (volt - voltMin)) / ohm)))
  }
}
