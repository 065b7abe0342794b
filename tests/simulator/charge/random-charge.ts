import type { Model } from '../../studies/two-models.ts'
import { Random } from '../random.ts'
import { type ChargeCar, chargeCar } from './charge-car.ts'
import type { LogStyle } from './charge-log.ts'
import type { ChargePlan } from './charge-world.ts'

export interface ChargeCase {
  readonly car: ChargeCar
  readonly plan: ChargePlan
  readonly style: LogStyle
  readonly random: Random
}

/** A car, a station, a charger and a log of random kind that fit each other: nothing holds the charge back. */
export function randomCharge(model: Model, seed: number, durationS: readonly [number, number]): ChargeCase {
  const random = new Random(seed).fork(`charge ${model}`)
  const car = chargeCar(model, seed)
  const ampereAt = random.pick([16, 20, 32])
  const cableOhm = ampereAt > 20 ? random.pick([220, 100]) : random.pick([680, 220])
  const mainsV = random.between(222, 238)
  const efficiency = random.between(0.88, 0.95)
  const packV = car.cells * car.restV(0.9)
  const wallW = ampereAt * mainsV * efficiency
  const chargerW = random.pick([3300, 6600, 7200])
  // the battery unit asks for what charger and station can give, as a charger that reports its limits lets it
  const askA = Math.max(4, (random.between(0.8, 0.97) * Math.min(wallW, chargerW)) / packV)
  const duration = random.between(...durationS)
  return {
    car,
    plan: {
      durationS: duration,
      plugS: random.between(12, 30),
      mainsV,
      dutyPercent: ampereAt / 0.6,
      cableOhm,
      chargerW,
      efficiency,
      askA,
      startSoc: random.between(0.3, 0.9),
      earlyState: random.chance(0.4),
      chargerHoldsVoltage: random.chance(0.4),
      ambientC: random.between(12, 28),
    },
    style: {
      everyS: random.pick([1, 1, 1, 2]),
      without: [],
      packGain: 0.006 * random.normal(),
      chargerGain: 0.004 * random.normal(),
      packOffsetA: 0.2 * random.normal(),
    },
    random,
  }
}
