import type { Random } from '../random.ts'
import type { Build } from './build.ts'
import { ROAD_STEP_S, type Road } from './road.ts'
import { torqueCeiling } from './traction.ts'

/** What the driver sees and feels. */
export interface Sight {
  readonly timeS: number
  /** Seconds of the road driven. */
  readonly roadS: number
  readonly speedMs: number
  readonly omega: number
  readonly ratio: number
  readonly startled: boolean
}

/**
 * A driver who does not know the car: wants (speed a second ahead − speed) / 1.1 s of acceleration, adds a load that he
 * learns from what the car does (an integral of 3 s), and gives it to the pedal where it is above what lifting off
 * gives, else to the brake. 0.25 s from pedal to pedal. With cruise control he sets it on the legs meant for it and
 * keeps both feet off; with creep he leaves the brake and lets the car roll first. A runaway startles him: feet off
 * until it ends (`runaway.ts` says which ways do).
 */
export class Foot {
  travel = 0
  bar = 12
  cruiseMs: number | null = null
  private load = 150
  private lastSpeed = 0
  private measured = 0
  private side: 'pedal' | 'brake' = 'brake'
  private moveUntilS = 0
  private shake = 0
  private creepUntilS = 0
  private holdOff = false

  constructor(
    private readonly build: Build,
    private readonly road: Road,
    private readonly random: Random,
  ) {}

  step(dt: number, sight: Sight): void {
    const { build, road } = this
    const { speedMs, roadS, timeS } = sight
    this.measured += ((speedMs - this.lastSpeed) / dt - this.measured) * Math.min(1, dt / 0.3)
    this.lastSpeed = speedMs
    this.shake += (-this.shake / 0.8) * dt + 0.03 * Math.sqrt(dt) * this.random.normal()
    const now = this.at(roadS)
    const soon = this.at(roadS + 1)
    let wantTravel = 0
    let wantBar = 0
    const leg = road.cruise.find((each) => roadS >= each.fromS && roadS < each.toS - 1)
    const near = leg && Math.abs(leg.speedMs - speedMs) < (this.cruiseMs === null ? 0.8 : 4)
    this.cruiseMs = build.functions.cruise && leg && near ? leg.speedMs : null
    if (sight.startled) {
      // startled: both feet off
    } else if (this.cruiseMs !== null) {
      this.load = 150
    } else if (now < 0.05 && soon < 0.05 && speedMs < 0.4) {
      wantBar = this.holdOff ? 0 : 11
      if (speedMs > 0) this.holdOff = false
      else if (build.functions.hold && wantBar > 0 && this.random.chance(dt / 3)) this.holdOff = true
      this.side = 'brake'
      this.creepUntilS = timeS + 3
      this.load = Math.max(0, this.load)
    } else {
      this.holdOff = false
      const creeping = build.functions.creep && timeS < this.creepUntilS && speedMs < 2.2
      const aim = Math.max(-4.5, Math.min(2.6, (soon - speedMs) / 1.1))
      const mass = build.road.massKg
      this.load += mass * Math.max(-1, Math.min(1, aim - this.measured)) * (dt / 3)
      this.load = Math.max(-0.12 * mass * 9.81, Math.min(0.15 * mass * 9.81 + 600, this.load))
      const force = mass * 1.05 * aim + this.load
      const perNm = sight.ratio / build.road.wheelRadiusM
      const lift = -build.brake.liftNm * perNm * (speedMs > 3 ? 1 : 0)
      if (this.side === 'pedal' && force < lift - 250) this.swap('brake', timeS)
      else if (this.side === 'brake' && force > lift + 120) this.swap('pedal', timeS)
      if (timeS >= this.moveUntilS && !creeping) {
        if (this.side === 'brake') wantBar = Math.max(0, lift - force) / this.newtonBar(perNm, speedMs)
        else {
          const share = force / perNm / torqueCeiling(build, sight.omega)
          wantTravel =
            share > 0 ? 0.08 + 0.92 * Math.min(1, share) ** (1 / 1.4) : 0.08 * Math.max(0, 1 - force / lift)
        }
      }
    }
    const pedal = wantTravel > 0 ? Math.max(0, wantTravel * (1 + this.shake)) : 0
    const brake = wantBar > 0 ? Math.max(0, wantBar * (1 + this.shake)) : 0
    this.travel += Math.max(-5 * dt, Math.min(2 * dt, (pedal - this.travel) * Math.min(1, dt / 0.14)))
    this.bar += Math.max(-130 * dt, Math.min(70 * dt, (brake - this.bar) * Math.min(1, dt / 0.12)))
    if (pedal === 0 && this.travel < 0.004) this.travel = 0
    if (brake === 0 && this.bar < 0.03) this.bar = 0
  }

  /** What a bar brakes, as a driver feels it: friction and, rolling, regeneration's usual share. */
  private newtonBar(perNm: number, speedMs: number): number {
    const { brake } = this.build
    const regen = speedMs > 3 ? (brake.maxNm / (brake.fullBar - brake.startBar)) * perNm : 0
    return brake.frictionNewtonBar + 0.8 * regen
  }

  private swap(side: 'pedal' | 'brake', timeS: number): void {
    this.side = side
    this.moveUntilS = timeS + 0.25
  }

  private at(roadS: number): number {
    const { speed } = this.road
    const place = Math.max(0, roadS / ROAD_STEP_S)
    const low = Math.min(speed.length - 1, Math.floor(place))
    const high = Math.min(speed.length - 1, low + 1)
    return speed[low]! + (place - low) * (speed[high]! - speed[low]!)
  }
}
