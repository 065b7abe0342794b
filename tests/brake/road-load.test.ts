import { describe, expect, it } from 'vitest'
import {
  coastDownS,
  kineticWh,
  meanFullyDevelopedMs2,
  roadForceN,
  roadLoadOf,
  roadPowerW,
} from '../../src/brake/models/road-load.ts'

describe('coast-down against printed times', () => {
  // 40 CFR 86.529-98 Figure F98-9: mass kg, f0 N, f2 N/(km/h)², force at 65 km/h, time from 70 to 60 km/h.
  it.each([
    [100, 0, 0.0224, 94.8, 2.95],
    [150, 4.32, 0.0238, 104.9, 3.99],
    [200, 8.69, 0.0252, 115.1, 4.85],
    [300, 17.43, 0.0279, 135.4, 6.18],
    [340, 20.92, 0.029, 143.6, 6.6],
  ])('%i kg', (mass, f0, f2, force, seconds) => {
    const load = { f0, f2 }
    expect(Math.abs(roadForceN(load, 65) - force)).toBeLessThan(0.25)
    expect(Math.abs(coastDownS(load, mass, 70, 60) - seconds)).toBeLessThan(0.015)
  })

  it('closed form and small steps agree', () => {
    const load = { f0: 120, f2: 0.03 }
    let seconds = 0
    for (let v = 90; v > 20; v -= 0.001) seconds += (1000 / 3.6 / roadForceN(load, v - 0.0005)) * 0.001
    expect(coastDownS(load, 1000, 90, 20)).toBeCloseTo(seconds, 3)
  })
})

describe('identities', () => {
  it('f0 = 130 N, f2 = 0.035 N/(km/h)² at 100 km/h: 480 N, 13.333 kW, 133.333 Wh/km (arithmetic)', () => {
    const load = { f0: 130, f2: 0.035 }
    expect(roadForceN(load, 100)).toBeCloseTo(480, 9)
    expect(roadPowerW(load, 100)).toBeCloseTo(13333.333, 2)
    expect(roadPowerW(load, 100) / 100).toBeCloseTo(133.333, 3)
  })

  it('1500 kg from 100 km/h holds 160.751 Wh (½ m v²)', () => {
    expect(kineticWh(1500, 100, 0)).toBeCloseTo(160.751, 3)
  })

  it('mean fully developed deceleration 6.43 m/s² over 37.80024 m from 100 km/h (UN R13 Annex 4, 1.1.2)', () => {
    expect(meanFullyDevelopedMs2(80, 10, 0, 37.80024)).toBeCloseTo(6.43, 5)
  })

  it('drag area and rolling coefficient give f0 and f2', () => {
    const load = roadLoadOf(1000, 0.012, 0.6)
    expect(load.f0).toBeCloseTo(117.68, 2)
    expect(load.f2 * 100 ** 2).toBeCloseTo(0.5 * 1.225 * 0.6 * (100 / 3.6) ** 2, 6)
  })
})
