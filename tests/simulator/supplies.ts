import type { Car } from './car.ts'
import { active, type Fault, faultsOf } from './faults.ts'

/**
 * The 12 V system: a battery of 25 mΩ behind its rest voltage, loads with the key on, short pulls of each contactor
 * (12 A for 80 ms, then 2 A), charging voltage once the DC-DC runs. Without the DC-DC the rest voltage sinks by
 * 0.4 V/h per 10 A.
 */
export class LowVoltage {
  volt: number
  dcdcA = 0
  private sunk = 0
  private readonly pullS: [number, number, number] = [-9, -9, -9]
  private readonly was: [number, number, number] = [0, 0, 0]

  constructor(
    private readonly car: Car,
    private readonly faults: readonly Fault[],
  ) {
    this.volt = car.lv.restV
  }

  step(
    dt: number,
    timeS: number,
    key: boolean,
    fed: boolean,
    coils: readonly [number, number, number],
  ): void {
    const { lv } = this.car
    let amps = key ? lv.loadA : 0.3
    for (let c = 0; c < 3; c++) {
      if (coils[c] === 1 && this.was[c] === 0) this.pullS[c] = timeS
      this.was[c] = coils[c]!
      if (coils[c] === 1) amps += timeS - this.pullS[c]! < 0.08 ? 12 : 2
    }
    const running = fed && !faultsOf(this.faults, 'dcdc-off').some((fault) => active(fault, timeS))
    const rest = lv.restV - this.sunk
    const aim = running ? lv.chargingV - 0.004 * amps : rest - 0.025 * amps
    this.volt += (aim - this.volt) * Math.min(1, dt / (running ? 0.25 : 0.015))
    this.dcdcA = running ? amps + (lv.chargingV - lv.restV + this.sunk) * 2 : 0
    this.sunk = Math.max(0, this.sunk + (running ? (-dt / 3600) * 0.6 : (dt / 3600) * 0.04 * amps))
    for (const fault of faultsOf(this.faults, 'lv-low'))
      if (active(fault, timeS)) this.volt = fault.volt - 0.012 * amps
  }
}

/**
 * Isolation monitor: at its ceiling while starting up, then settling exponentially on the leak it sees. A leak on the
 * link side is seen only while a main contactor joins it to the battery side.
 */
export class IsolationMonitor {
  kohm: number
  settled = false
  trueKohm: number
  private onForS = 0

  constructor(
    private readonly car: Car,
    private readonly faults: readonly Fault[],
  ) {
    this.kohm = car.isolation.ceilingKohm
    this.trueKohm = car.isolation.kohm
  }

  step(dt: number, timeS: number, powered: boolean, joined: boolean): void {
    const { isolation } = this.car
    let leak = 1 / isolation.kohm
    for (const fault of faultsOf(this.faults, 'isolation'))
      if (active(fault, timeS) && (fault.side === 'battery' || joined)) leak += 1 / fault.kohm
    this.trueKohm = 1 / leak
    this.onForS = powered ? this.onForS + dt : 0
    if (this.onForS < isolation.startUpS) this.kohm = isolation.ceilingKohm
    else this.kohm *= (this.trueKohm / this.kohm) ** (dt / isolation.settleS)
    this.settled = this.onForS > isolation.startUpS + 4 * isolation.settleS
  }
}
