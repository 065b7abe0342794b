import { driveLoss, RegenMap, torqueCeiling } from './brakes.ts'
import type { Car } from './car.ts'
import { leftNm, played } from './controller-map.ts'
import { active, type Fault, type FaultOf, faultsOf } from './faults.ts'
import { pedalTorque } from './pedal.ts'
import { Runaways } from './runaway.ts'

/** What the inverter knows at a moment. */
export interface Asked {
  readonly timeS: number
  readonly ready: boolean
  readonly selector: number
  readonly travel: number
  readonly bar: number
  readonly speedMs: number
  readonly omega: number
  readonly linkVolt: number
  /** What the battery allows, A. */
  readonly chargeA: number
  readonly dischargeA: number
  readonly battery: { readonly cellV: number; readonly cellOhm: number; readonly soc: number }
}

/**
 * From pedal and brake to torque. The brake's pressure arrives after a pure delay and a first-order filter; the
 * request is the pedal's torque or, with the pedal released, lift-off and press torque together; what is allowed keeps
 * within the motor's ceiling and the battery's charge limit:
 *
 *     −torque · ω ≤ charge limit · link voltage + losses     torque · ω ≤ discharge limit · link voltage − losses
 *
 * The motor follows with 40 ms (12 ms once the inverter has shut down).
 */
export class TorqueControl {
  readonly regen: RegenMap
  readonly runaways: Runaways
  request = 0
  torque = 0
  /** Braking torque that the battery's limit keeps from the request, N·m. */
  heldNm = 0
  /** Pressure as the sensor gives it to everybody, zero taken out. */
  signalBar = 0
  private sensedBar = 0
  private playedBar = 0
  private readonly delayed: Float64Array
  private slot = 0
  private readonly lagS: number
  private readonly missing: readonly FaultOf<'brake-signal-missing'>[]
  private readonly unasked: readonly FaultOf<'torque-without-pedal'>[]

  constructor(
    private readonly car: Car,
    faults: readonly Fault[],
    dt: number,
  ) {
    this.regen = new RegenMap(car, faults)
    this.runaways = new Runaways(faults)
    this.lagS = car.brake.filterS + faultsOf(faults, 'regen-lag').reduce((sum, fault) => sum + fault.s, 0)
    this.delayed = new Float64Array(Math.max(1, Math.round(car.brake.delayS / dt)))
    this.missing = faultsOf(faults, 'brake-signal-missing')
    this.unasked = faultsOf(faults, 'torque-without-pedal')
  }

  step(dt: number, asked: Asked): void {
    const { timeS, ready, travel, omega } = asked
    this.signalBar = this.missing.some((fault) => active(fault, timeS)) ? 0 : asked.bar
    const arrived = this.delayed[this.slot]!
    this.delayed[this.slot] = this.signalBar
    this.slot = (this.slot + 1) % this.delayed.length
    this.sensedBar += (arrived - this.sensedBar) * (this.lagS > 0 ? 1 - Math.exp(-dt / this.lagS) : 1)

    const { map } = this.car.brake
    this.playedBar = map ? played(this.playedBar, this.sensedBar, map.backBar) : this.sensedBar
    const kmh = asked.speedMs * 3.6
    const ceiling = torqueCeiling(this.car, omega)
    this.request = 0
    if (ready && asked.selector !== 0)
      this.request =
        pedalTorque(travel, this.regen.liftTorque(kmh), ceiling) -
        (travel < 0.06 ? this.regen.pressTorque(this.playedBar, kmh) : 0)
    for (const fault of this.unasked)
      if (ready && timeS >= fault.atS && timeS < fault.atS + fault.lenS) this.request = fault.nm
    const plain = this.request
    const run = this.runaways.step(dt, { timeS, ready, travel, bar: asked.bar, kmh, request: plain })
    this.request = run.request
    let allowed = Math.max(-ceiling, Math.min(ceiling, run.aim))
    if (omega > 1) {
      const loss = driveLoss(allowed, omega)
      if (map && allowed < 0) allowed = -leftNm(map, -allowed, omega, asked.linkVolt, asked.battery, loss)
      if (allowed < 0) allowed = Math.max(allowed, -((asked.chargeA + 1) * asked.linkVolt + loss) / omega)
      else allowed = Math.min(allowed, Math.max(0, (asked.dischargeA - 6) * asked.linkVolt - loss) / omega)
    }
    this.heldNm = Math.max(0, allowed - Math.max(-ceiling, plain))
    this.torque += (allowed - this.torque) * (1 - Math.exp(-dt / (ready ? 0.04 : 0.012)))
    if (!ready && Math.abs(this.torque) < 0.05) this.torque = 0
  }
}
