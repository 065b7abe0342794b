import { leftNm, liftNm, played, pressNm } from '../controller-map.ts'
import { active, type Fault, type FaultOf, faultsOf } from '../faults.ts'
import { Runaways } from '../runaway.ts'
import type { Build } from './build.ts'

/** What the controls feel at a moment. */
export interface Felt {
  readonly timeS: number
  readonly ready: boolean
  readonly selector: number
  /** Pedal travel 0 … 1. */
  readonly travel: number
  readonly bar: number
  readonly speedMs: number
  readonly slope: number
  readonly omega: number
  readonly volt: number
  readonly chargeA: number
  readonly dischargeA: number
  readonly battery: { readonly cellV: number; readonly cellOhm: number; readonly soc: number }
  /** Speed that cruise control is to hold, m/s; null: off. */
  readonly cruiseMs: number | null
  /** The gearbox is between two gears. */
  readonly shifting: boolean
}

/** Electrical loss of motor and inverter, W: idle, copper, iron and switching; own figures. */
export function lossWatt(torque: number, omega: number): number {
  return 45 + 0.075 * torque * torque + 0.9 * Math.abs(omega) + 0.0007 * omega * omega
}

export function torqueCeiling(build: Build, omega: number): number {
  return Math.min(build.road.motorMaxNm, build.road.motorMaxW / Math.max(1, omega))
}

const CREEP_TO_KMH = 9

/**
 * Request and torque of the motor (N·m, drive positive). Pedal: lift-off torque at 0, none at 8 %, from there travel to
 * the power of 1.4 times the ceiling. Brake: a share of the largest between two pressures, faded at low speed, added
 * to lift-off. Cruise, creep and hold act with both pedals released and pass through the request. The inverter slews:
 *
 *     d torque / dt within ± slew; limits of the battery: P within charge and discharge limit times voltage
 */
export class Traction {
  request = 0
  torque = 0
  heldNm = 0
  cruising = false
  holding = false
  readonly runaways: Runaways
  private integral = 0
  private seenBar = 0
  private playedBar = 0
  private readonly unasked: readonly FaultOf<'torque-without-pedal'>[]

  constructor(
    private readonly build: Build,
    private readonly faults: readonly Fault[],
  ) {
    this.runaways = new Runaways(faults)
    this.unasked = faultsOf(faults, 'torque-without-pedal')
  }

  fade(kmh: number): number {
    const [low, high] = this.build.brake.fadeKmh
    return Math.max(0, Math.min(1, (kmh - low) / (high - low)))
  }

  pressNm(bar: number, kmh: number): number {
    const { startBar, fullBar, maxNm, map } = this.build.brake
    if (map) return pressNm(map, this.build.brake, bar, kmh)
    return maxNm * Math.max(0, Math.min(1, (bar - startBar) / (fullBar - startBar))) * this.fade(kmh)
  }

  step(dt: number, felt: Felt): void {
    const { build } = this
    const kmh = felt.speedMs * 3.6
    const ceiling = torqueCeiling(build, felt.omega)
    const { map } = build.brake
    const lift = map ? liftNm(map, build.brake, kmh) : build.brake.liftNm * this.fade(kmh)
    this.seenBar += (felt.bar - this.seenBar) * (1 - Math.exp(-dt / 0.06))
    const missing = faultsOf(this.faults, 'brake-signal-missing').some((fault) => active(fault, felt.timeS))
    this.playedBar = map ? played(this.playedBar, this.seenBar, map.backBar) : this.seenBar
    const bar = missing ? 0 : this.playedBar
    const released = felt.travel < 0.005
    this.cruising = this.holding = false
    let want = 0
    if (felt.ready && felt.selector !== 0 && !felt.shifting) {
      want = released
        ? -lift - this.pressNm(bar, kmh)
        : felt.travel < 0.08
          ? -lift * (1 - felt.travel / 0.08)
          : ((felt.travel - 0.08) / 0.92) ** 1.4 * ceiling
      if (released && felt.bar < 0.5) want = this.function(dt, felt, kmh, want, ceiling)
      else this.integral = 0
    }
    this.request = Math.max(-ceiling, Math.min(ceiling, want))
    for (const fault of this.unasked)
      if (felt.ready && felt.timeS >= fault.atS && felt.timeS < fault.atS + fault.lenS)
        this.request = fault.nm
    const shown = this.request
    const { timeS, ready, travel } = felt
    const { request, aim } = this.runaways.step(dt, {
      timeS,
      ready,
      travel,
      bar: felt.bar,
      kmh,
      request: shown,
    })
    this.request = request
    let allowed = Math.max(-ceiling, Math.min(ceiling, aim))
    if (felt.omega > 1) {
      const loss = lossWatt(allowed, felt.omega)
      if (map && allowed < 0) allowed = -leftNm(map, -allowed, felt.omega, felt.volt, felt.battery, loss)
      if (allowed < 0) allowed = Math.max(allowed, -(felt.chargeA * felt.volt + loss) / felt.omega)
      else allowed = Math.min(allowed, Math.max(0, felt.dischargeA * felt.volt - loss) / felt.omega)
    }
    this.heldNm = Math.max(0, allowed - shown)
    const most = (felt.ready ? build.road.slewNmS : 4000) * dt
    this.torque += Math.max(-most, Math.min(most, allowed - this.torque))
    if (!felt.ready && Math.abs(this.torque) < 0.05) this.torque = 0
  }

  /** Cruise, creep or hold in place of `coast`, where one is at work. */
  private function(dt: number, felt: Felt, kmh: number, coast: number, ceiling: number): number {
    const { functions, road, pedal } = this.build
    if (felt.cruiseMs !== null) {
      const error = felt.cruiseMs - felt.speedMs
      this.integral = Math.max(-ceiling, Math.min(ceiling, this.integral + 9 * error * dt))
      this.cruising = true
      return Math.max(-0.8 * this.build.brake.maxNm, Math.min(0.7 * ceiling, 45 * error + this.integral))
    }
    this.integral = 0
    const perNm = (road.ratios[0]! * 0.96) / road.wheelRadiusM
    if (functions.hold && felt.speedMs < 0.02 && felt.slope > 0.004) {
      this.holding = true
      return Math.min(pedal.creepMaxNm, (road.massKg * 9.81 * felt.slope) / perNm)
    }
    if (functions.creep && kmh < CREEP_TO_KMH && felt.selector > 0) {
      this.holding = true
      return 0.8 * pedal.creepMaxNm * (1 - kmh / CREEP_TO_KMH)
    }
    return coast
  }
}
