import { frictionNewton, type RegenMap, roadLoad, torqueCeiling } from './brakes.ts'
import type { Car } from './car.ts'
import { travelFor } from './pedal.ts'
import type { Random } from './random.ts'
import type { Route } from './route.ts'

export interface DriverOptions {
  /** First turn of the key, s. */
  readonly keyOnS: number
  /** Time a driver waits for a start before giving up. */
  readonly patienceS: number
  /** Starts tried in a row before giving up. */
  readonly attempts: number
  /** Logged after the last key-off. */
  readonly restS: number
  /** After the rest: plugged in for so long, with so many ampere. */
  readonly charge: { readonly durationS: number; readonly amps: number } | null
  /** The brake the driver is used to, where the car's differs: pressure goes by habit. */
  readonly habit: Partial<Car['brake']> | null
  /** What the driver does with the key: start, leave it on for `patienceS` and touch nothing else, or never turn it. */
  readonly uses: 'starts' | 'key-alone' | 'nothing'
  readonly neverPressesBrake: boolean
  readonly leavesSelectorIn: boolean
  readonly restsOnPedal: boolean
}

/** What a driver sees and feels. */
interface Felt {
  readonly timeS: number
  readonly speedMs: number
  readonly slope: number
  readonly ready: boolean
  readonly inverterReady: boolean
  /** Torque that nobody asked for: both feet off until it is over. */
  readonly startled: boolean
}

type Phase = 'before' | 'starting' | 'driving' | 'parking' | 'lost' | 'rest' | 'charging'

/**
 * A driver: starts the car, follows the route's speed, parks. The wanted acceleration is the route's plus 0.7 /s of
 * the speed error; the force for it (mass, road load) goes to the accelerator where it is above lift-off drag, else to
 * the brake, whose pressure is solved from the regeneration map and friction (the driver knows the car). One foot:
 * 0.28 s from pedal to pedal; travel and pressure are limited in rate, smoothed, and tremble a little.
 */
export class Driver {
  key = false
  selector = 0
  travel = 0
  bar = 0
  phase: Phase = 'before'
  done = false
  plugged = false
  chargeA = 0
  private sinceS = 0
  private attemptsLeft: number
  private routeS = 0
  private foot: 'accelerator' | 'brake' | 'free' = 'brake'
  private freeUntilS = 0
  private tremor = 0
  private readyAtS = Number.NaN
  private restarts = 1

  constructor(
    private readonly car: Car,
    private readonly route: Route | null,
    private readonly regen: RegenMap,
    private readonly options: DriverOptions,
    private readonly random: Random,
  ) {
    this.attemptsLeft = options.attempts
    if (options.leavesSelectorIn) this.selector = 1
  }

  step(dt: number, felt: Felt): void {
    const { timeS } = felt
    const elapsed = timeS - this.sinceS
    let wantBar = 0
    let wantTravel = 0
    if (this.phase === 'before') {
      if (this.options.uses === 'nothing') this.enter('rest', timeS)
      else if (timeS >= this.options.keyOnS && (this.sinceS === 0 || elapsed > 6)) {
        this.key = true
        this.attemptsLeft--
        this.readyAtS = Number.NaN
        this.enter('starting', timeS)
      }
    } else if (this.phase === 'starting' && this.options.uses === 'key-alone') {
      if (elapsed > this.options.patienceS) this.turnOff(timeS)
    } else if (this.phase === 'starting') {
      wantBar = elapsed > 1.1 && !this.options.neverPressesBrake ? 9 : 0
      wantTravel = this.options.restsOnPedal ? 0.18 : 0
      if (felt.inverterReady && Number.isNaN(this.readyAtS)) this.readyAtS = timeS
      if (timeS - this.readyAtS > 0.9 || elapsed > this.options.patienceS * 0.7) this.selector = 1
      if (felt.ready && timeS - this.readyAtS > 2.2) this.enter(this.route ? 'driving' : 'parking', timeS)
      else if (elapsed > this.options.patienceS) this.turnOff(timeS)
    } else if (this.phase === 'driving') {
      if (!felt.ready) this.enter('lost', timeS)
      else if (this.routeS >= this.route!.speed.length * this.route!.stepS - 1) this.enter('parking', timeS)
      else if (!felt.startled) {
        const wish = this.follow(felt, dt)
        wantBar = wish.bar
        wantTravel = wish.travel
      }
    } else if (this.phase === 'parking') {
      wantBar = 9
      if (elapsed > 1.6) this.selector = 0
      if (elapsed > 3.5) {
        this.key = false
        this.enter('rest', timeS)
      }
    } else if (this.phase === 'lost') {
      const force = this.car.road.massKg * 1.3 - roadLoad(this.car, felt.speedMs, felt.slope)
      wantBar =
        elapsed < 1 ? 0 : felt.speedMs < 0.1 ? 9 : Math.max(0, force) / this.car.brake.frictionNewtonBar + 1
      if (felt.speedMs < 0.05 && elapsed > 14) {
        this.attemptsLeft += this.restarts > 0 ? 1 : 0
        this.restarts--
        this.turnOff(timeS)
      }
    } else if (this.phase === 'rest') {
      if (elapsed > this.options.restS)
        if (this.options.charge) this.enter('charging', timeS)
        else this.done = true
    } else {
      const { durationS, amps } = this.options.charge!
      this.chargeA = elapsed < durationS - 8 ? amps : 0
      this.plugged = elapsed < durationS
      if (elapsed > durationS + 15) this.done = true
    }
    this.press(dt, wantTravel, wantBar)
  }

  private turnOff(timeS: number): void {
    this.key = false
    this.selector = this.options.leavesSelectorIn ? 1 : 0
    this.enter(this.attemptsLeft > 0 ? 'before' : 'rest', timeS)
  }

  private enter(phase: Phase, timeS: number): void {
    this.phase = phase
    this.sinceS = timeS
  }

  private speedAt(routeS: number): number {
    const { speed, stepS } = this.route!
    const place = Math.min(Math.max(0, routeS / stepS), speed.length - 1.001)
    const at = Math.floor(place)
    return speed[at]! + (place - at) * (speed[at + 1]! - speed[at]!)
  }

  private follow(felt: Felt, dt: number): { travel: number; bar: number } {
    this.routeS += dt
    const { car } = this
    const { speedMs, timeS } = felt
    const wanted = this.speedAt(this.routeS)
    const soon = this.speedAt(this.routeS + 0.5)
    if (wanted < 0.05 && soon < 0.05 && speedMs < 0.3) {
      this.foot = 'brake'
      return { travel: 0, bar: 9 }
    }
    const ahead = (soon - this.speedAt(this.routeS + 0.2)) / 0.3
    const accel = Math.max(-6, Math.min(3.2, ahead + 0.7 * (wanted - speedMs)))
    const kmh = speedMs * 3.6
    const toTorque = car.road.wheelRadiusM / car.road.gear
    const force = effectiveMass(car) * accel + roadLoad(car, speedMs, felt.slope)
    const lift = this.regen.liftTorque(kmh)
    const drag = -lift / toTorque / car.road.driveline
    if (this.foot === 'free' && timeS >= this.freeUntilS) this.foot = force < drag ? 'brake' : 'accelerator'
    else if (this.foot === 'accelerator' && force < drag - 160) this.leave(timeS)
    else if (this.foot === 'brake' && force > drag + 60) this.leave(timeS)
    if (this.foot === 'free') return { travel: 0, bar: 0 }
    if (this.foot === 'accelerator') {
      const omega = (speedMs / car.road.wheelRadiusM) * car.road.gear
      const torque =
        force > 0 ? (force * toTorque) / car.road.driveline : force * toTorque * car.road.driveline
      return { travel: travelFor(torque, lift, torqueCeiling(car, omega)), bar: 0 }
    }
    return { travel: 0, bar: this.pressureFor(-force, kmh, lift) }
  }

  private leave(timeS: number): void {
    this.foot = 'free'
    this.freeUntilS = timeS + 0.28
  }

  /** Pressure at which friction and regeneration together give a force; by halving. */
  private pressureFor(force: number, kmh: number, lift: number): number {
    const perNm = this.car.road.gear / this.car.road.wheelRadiusM / this.car.road.driveline
    let low = 0
    let high = 120
    for (let i = 0; i < 18; i++) {
      const bar = (low + high) / 2
      const given = frictionNewton(this.car, bar) + (this.regen.pressTorque(bar, kmh) + lift) * perNm
      if (given < force) low = bar
      else high = bar
    }
    return low
  }

  private press(dt: number, wantTravel: number, wantBar: number): void {
    this.tremor += (-this.tremor * dt) / 0.6 + 0.05 * Math.sqrt(dt) * this.random.normal()
    const travel = wantTravel > 0 ? Math.max(0, wantTravel * (1 + 0.35 * this.tremor)) : 0
    const bar = wantBar > 0 ? Math.max(0, wantBar * (1 + 0.35 * this.tremor)) : 0
    this.travel += clamp((travel - this.travel) * Math.min(1, dt / 0.11), -4 * dt, 2.2 * dt)
    this.bar += clamp((bar - this.bar) * Math.min(1, dt / 0.1), -150 * dt, 85 * dt)
    if (travel === 0 && this.travel < 0.002) this.travel = 0
    if (bar === 0 && this.bar < 0.02) this.bar = 0
  }
}

/** Mass with what turns (wheels, rotor) added as 4 %. */
export function effectiveMass(car: Car): number {
  return car.road.massKg * 1.04
}

function clamp(x: number, low: number, high: number): number {
  return Math.max(low, Math.min(high, x))
}
