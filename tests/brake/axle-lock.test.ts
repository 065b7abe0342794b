import { describe, expect, it } from 'vitest'
import type { Vehicle } from '../../shared/vehicle.ts'
import { axleLock, HIGH_GRIP, LOW_GRIP, raisedNm } from '../../src/brake/models/axle-lock.ts'
import type { SlowingMap } from '../../src/brake/models/slowing-map.ts'

const CAR: Vehicle = {
  car: {
    mass_kg: 1000,
    wheel_radius_m: 0.3,
    gear_ratio: 9,
    driven_axle: 'rear',
    wheelbase_m: 2.4,
    front_mass_share: 0.5,
    centre_of_gravity_m: 0.5,
  },
}
const map = (start: number, full: number, brakeNm: number): SlowingMap => ({
  form: 'sum',
  start,
  full,
  brakeNm,
  fade: [4, 12],
  liftNm: 0,
  liftFade: [4, 12],
  step: null,
})

describe('the driven axle must not lock first', () => {
  it('names every field that is missing, and does not hold', () => {
    const found = axleLock(
      { car: { mass_kg: 900, gear_ratio: [3, 9] } },
      map(3, 28, 60),
      map(1, 28, 60),
      3,
      1,
      60,
    )
    expect(found.holds).toBe(false)
    expect(found.missing).toEqual([
      'car.wheel_radius_m',
      'car.gear_ratio',
      'car.driven_axle',
      'car.wheelbase_m',
      'car.front_mass_share',
    ])
  })

  it('by hand: rear axle at low grip', () => {
    // 15 N·m: F = 15 · 9 / 0.3 = 450 N, z = 0.0459, rear load 4903.3 − 450 · 0.5 / 2.4 = 4809.6 N,
    // allowed half of 0.25 · 4809.6 = 601.2 N: 74.9 % used
    const nothing = map(40, 50, 0)
    const flat = map(0.1, 0.2, 15)
    const found = axleLock(CAR, nothing, flat, 0, 0, 10)
    expect(LOW_GRIP).toBe(0.25)
    expect(found.worstShare).toBeCloseTo(450 / (0.5 * 0.25 * (4903.325 - (450 * 0.5) / 2.4)), 6)
    expect(found.holds).toBe(true)
    expect(axleLock(CAR, nothing, map(0.1, 0.2, 22), 0, 0, 10).holds).toBe(false)
  })

  it('high grip counts friction too', () => {
    // 10 N·m = 300 N beside 30 N·m/bar · 9 / 0.3 = 900 N a bar: at 8 bar 7200 N of friction on a 1000 kg car
    const found = axleLock(CAR, map(40, 50, 0), map(0.1, 0.2, 10), 30, 0, 8)
    expect(HIGH_GRIP).toBe(0.7)
    expect(found.worstShare).toBeGreaterThan(1)
    expect(found.atBar).toBe(8)
  })

  it('a map that raises nothing has nothing to check', () => {
    expect(axleLock(CAR, map(3, 28, 60), map(5, 30, 55), 5, 1, 60).holds).toBe(true)
    expect(raisedNm(map(3, 28, 60), map(5, 30, 55), 60)).toBe(0)
    expect(raisedNm(map(3, 28, 60), map(1, 28, 60), 60)).toBeGreaterThan(3)
  })
})
