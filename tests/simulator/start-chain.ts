import type { Car } from './car.ts'
import { active, type Fault, faultsOf, type StartBlock } from './faults.ts'

/** State numbers of our invented units; the vehicle file carries their meaning. */
export const BMS = {
  asleep: 0,
  idle: 1,
  checking: 2,
  precharge: 4,
  closed: 6,
  charging: 7,
  fault: 9,
} as const
export const INVERTER = { off: 0, powered: 1, ready: 3, drive: 4, fault: 8 } as const
export const BMS_FAULT = {
  isolation: 1,
  interlock: 2,
  precharge: 4,
  battery: 8,
  supply: 16,
  inertia: 32,
} as const

/** What the chain sees of the car at a moment. */
export interface Seen {
  readonly timeS: number
  readonly key: boolean
  /** The charger is plugged in and asks for current. */
  readonly plugged: boolean
  readonly brake: boolean
  readonly selector: number
  readonly pedalReleased: boolean
  readonly lvVolt: number
  readonly isolationKohm: number
  readonly isolationSettled: boolean
  readonly packVolt: number
  readonly linkVolt: number
}

/**
 * The start chain of battery unit and inverter, a state machine:
 *
 *     asleep → (key, 12 V) idle 0.4 s → checking: plug out, loops closed, no fault, isolation settled and over
 *     500 Ω/V → first contactor, 0.15 s → precharge until the link is at the ready percentage (or time-out → fault)
 *     → second contactor, 0.2 s → precharge released → closed. Inverter: powered with the link up, ready 0.8 s later;
 *     drive ready once the brake is pressed, the selector left neutral and the pedal was released.
 *
 * `negative`, `positive`, `precharge` are commands; what the contacts do is the physics' business (weld, stuck open).
 * With the charger plugged in and no key the same way ends in `charging`.
 * A loop that opens, a fault, low 12 V or bad isolation at any time opens all contactors 60 ms later, under load if
 * there is one. A fault stays until the key is turned off.
 */
export class StartChain {
  bms: number = BMS.asleep
  inverter: number = INVERTER.off
  bmsFaults = 0
  inverterFaults = 0
  negative = 0
  positive = 0
  precharge = 0
  ready = 0
  interlock = 1
  inertia = 1
  plug = 0
  private sinceS = 0
  private inverterSinceS = 0
  private tripS = Number.NaN
  private brakeSeen = false
  private neutralSeen = false
  private secondSinceS = Number.NaN
  /** Since when the contactors have been let go though commanded; NaN: they hold. */
  private droppedS = Number.NaN

  constructor(
    private readonly car: Car,
    private readonly faults: readonly Fault[],
  ) {}

  private on(kind: StartBlock, timeS: number): boolean {
    for (const fault of this.faults) if (fault.kind === kind && active(fault, timeS)) return true
    return false
  }

  /** Nothing is closed on purpose: the inverter discharges the link. */
  get idle(): boolean {
    return this.bms !== BMS.precharge && this.bms !== BMS.closed && this.bms !== BMS.charging
  }

  step(seen: Seen): void {
    const { timeS } = seen
    this.interlock = this.on('interlock-open', timeS) ? 0 : 1
    this.inertia = this.on('inertia-open', timeS) ? 0 : 1
    this.plug = seen.plugged || this.on('plug-in', timeS) ? 1 : 0
    if (!seen.key && !seen.plugged) {
      this.turnedOff()
      return
    }
    this.stepBattery(seen)
    this.stepInverter(seen)
  }

  private turnedOff(): void {
    this.bms = BMS.asleep
    this.inverter = INVERTER.off
    this.bmsFaults = this.inverterFaults = 0
    this.negative = this.positive = this.precharge = this.ready = 0
    this.brakeSeen = this.neutralSeen = false
    this.tripS = this.secondSinceS = this.droppedS = Number.NaN
  }

  private enter(state: number, timeS: number): void {
    this.bms = state
    this.sinceS = timeS
  }

  /** What stands against closed contactors now: fault bits, or 0. */
  private against(seen: Seen): number {
    const isolationLimit = (0.5 * seen.packVolt) | 0
    return (
      (this.interlock === 0 ? BMS_FAULT.interlock : 0) |
      (this.inertia === 0 ? BMS_FAULT.inertia : 0) |
      (this.on('battery-fault', seen.timeS) ? BMS_FAULT.battery : 0) |
      (seen.lvVolt < this.car.lv.minV ? BMS_FAULT.supply : 0) |
      (seen.isolationSettled && seen.isolationKohm < isolationLimit ? BMS_FAULT.isolation : 0)
    )
  }

  private stepBattery(seen: Seen): void {
    const { timeS } = seen
    const { precharge } = this.car
    if (
      Number.isNaN(this.droppedS) &&
      faultsOf(this.faults, 'contactor-opened').some((fault) => timeS >= fault.atS) &&
      this.bms === BMS.closed
    )
      this.droppedS = timeS
    const against = this.against(seen)
    if (this.bms >= BMS.precharge && this.bms !== BMS.fault && (against !== 0 || this.plugBlocks(seen))) {
      if (Number.isNaN(this.tripS)) this.tripS = timeS
      if (timeS - this.tripS > 0.06) this.trip(against, timeS)
      return
    }
    const elapsed = timeS - this.sinceS
    if (this.bms === BMS.asleep) this.enter(BMS.idle, timeS)
    else if (this.bms === BMS.idle && elapsed > 0.4) this.enter(BMS.checking, timeS)
    else if (this.bms === BMS.checking) {
      if ((against & (BMS_FAULT.battery | BMS_FAULT.isolation)) !== 0) this.trip(against, timeS)
      else if (against === 0 && !this.plugBlocks(seen) && seen.isolationSettled && elapsed > 0.3)
        this.enter(BMS.precharge, timeS)
    } else if (this.bms === BMS.precharge) {
      if (elapsed > 0.05) this.closeFirst()
      if (elapsed > 0.2) this.precharge = 1
      const reached = seen.linkVolt >= (precharge.readyPercent / 100) * seen.packVolt
      if (elapsed > 0.3 && reached && Number.isNaN(this.secondSinceS)) this.secondSinceS = timeS
      if (timeS - this.secondSinceS > 0.05) this.closeSecond()
      if (timeS - this.secondSinceS > 0.25) {
        this.precharge = 0
        this.enter(seen.plugged ? BMS.charging : BMS.closed, timeS)
      } else if (Number.isNaN(this.secondSinceS) && elapsed > precharge.timeoutS)
        this.trip(BMS_FAULT.precharge, timeS)
    }
    if (!Number.isNaN(this.droppedS)) {
      this.negative = this.positive = 0
      if (timeS - this.droppedS > 0.25) this.trip(BMS_FAULT.battery, timeS)
    }
  }

  /** A plug in the socket forbids driving; charging wants it. */
  private plugBlocks(seen: Seen): boolean {
    return this.plug === 1 && !seen.plugged
  }

  private trip(faults: number, timeS: number): void {
    this.bmsFaults |= faults
    this.negative = this.positive = this.precharge = 0
    this.tripS = Number.NaN
    this.enter(BMS.fault, timeS)
  }

  private closeFirst(): void {
    if (this.car.precharge.layout === 'positive') this.negative = 1
    else this.positive = 1
  }

  private closeSecond(): void {
    if (this.car.precharge.layout === 'positive') this.positive = 1
    else this.negative = 1
  }

  private stepInverter(seen: Seen): void {
    const { timeS } = seen
    const share = seen.linkVolt / seen.packVolt
    const fed = share > 0.75 && share < 1.2 && this.bms === BMS.closed
    if (seen.brake && !this.on('brake-not-pressed', timeS)) this.brakeSeen = true
    if (seen.selector === 0) this.neutralSeen = true
    if (!fed || this.on('inverter-off', timeS)) {
      this.inverter = INVERTER.off
      this.inverterSinceS = timeS
    } else if (this.inverter === INVERTER.off && timeS - this.inverterSinceS > 0.3) {
      this.inverter = INVERTER.powered
      this.inverterSinceS = timeS
    } else if (this.inverter === INVERTER.powered && timeS - this.inverterSinceS > 0.8)
      this.inverter = INVERTER.ready
    else if (
      this.inverter === INVERTER.ready &&
      this.brakeSeen &&
      this.neutralSeen &&
      seen.selector !== 0 &&
      seen.pedalReleased
    )
      this.inverter = INVERTER.drive
    this.ready = this.inverter === INVERTER.drive ? 1 : 0
  }
}
