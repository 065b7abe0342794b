import { describe, expect, it } from 'vitest'
import { axleOf, needOfGrip } from '../../src/brake/models/axle-lock.ts'
import { seeded } from '../helpers/shared-drive.ts'
import { locks, type TwoAxleCar } from '../helpers/two-axle.ts'

/** Twenty cars, both axles, as workshops build them. */
const CARS = Array.from({ length: 20 }, (_, seed): TwoAxleCar => {
  const random = seeded(100 + seed)
  const between = (low: number, high: number): number => low + (high - low) * random()
  return {
    massKg: between(650, 2100),
    frontShare: between(0.4, 0.6),
    heightM: between(0.4, 0.65),
    wheelbaseM: between(2.1, 2.8),
    driven: seed % 3 === 0 ? 'front' : 'rear',
    gear: between(6.5, 10.5),
    radiusM: between(0.27, 0.33),
    wheelInertia: between(0.5, 0.9),
    rotorInertia: between(0.01, 0.03),
    dragAreaM2: between(0.55, 0.8),
  }
})

const needOf = (car: TwoAxleCar, nm: number): number => {
  const { axles } = axleOf(
    {
      car: {
        mass_kg: car.massKg,
        front_mass_share: car.frontShare,
        centre_of_gravity_m: car.heightM,
        wheelbase_m: car.wheelbaseM,
        driven_axle: car.driven,
        gear_ratio: car.gear,
        wheel_radius_m: car.radiusM,
      },
    },
    null,
  )
  return Math.max(...axles.map((axle) => needOfGrip(axle, nm)))
}

/** The torque whose computed need is so much, by halving. */
function torqueFor(car: TwoAxleCar, need: number): number {
  let [low, high] = [0, 2000]
  for (let k = 0; k < 40; k++) {
    const nm = (low + high) / 2
    if (needOf(car, nm) < need) low = nm
    else high = nm
  }
  return low
}

describe.each([0.2, 0.4, 0.8])('driven on two axles at a grip of %s', (grip) => {
  it.each([0.6, 0.8, 0.9, 0.95])('no axle locks whose computed need is %s of the grip', (share) => {
    for (const car of CARS)
      expect(locks(car, torqueFor(car, share * grip), grip), JSON.stringify(car)).toBe(false)
  })

  it.each([1.1, 1.2, 1.5])('every axle locks whose computed need is %s of the grip', (share) => {
    for (const car of CARS)
      expect(locks(car, torqueFor(car, share * grip), grip), JSON.stringify(car)).toBe(true)
  })
})
