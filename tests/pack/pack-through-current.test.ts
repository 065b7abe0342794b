import { describe, expect, it } from 'vitest'
import { copperOhm } from '../../src/car/copper.ts'
import type { PackCurrent } from '../../src/car/pack-current.ts'
import { behindLag, gridAt, throughCurrent, trustedAt } from '../../src/pack/models/pack-through-current.ts'

const current = (timeS: number[], amperes: number[]): PackCurrent =>
  ({ timeS: Float64Array.from(timeS), amperes: Float64Array.from(amperes) }) as PackCurrent

describe('current through the pack', () => {
  it('follows the one-RC worked example: 2 A for 5 s, then off', () => {
    // teaching page: OCV 3.70 V, R0 0.10 Ω, R1 0.05 Ω, C1 200 F (10 s); exponentials worked out by hand
    const timeS = Array.from({ length: 1001 }, (_, i) => i / 100)
    const through = throughCurrent(
      current(
        timeS,
        timeS.map((t) => (t < 5 ? 2 : 0)),
      ),
      0.01,
      10,
    )!
    const state = behindLag(through, 10)
    expect(3.7 - 0.1 * 2 - 0.05 * gridAt(through, state, 4.98)).toBeCloseTo(3.460653066, 3)
    expect(3.7 - 0.05 * gridAt(through, state, 10)).toBeCloseTo(3.6761348781, 4)
  })

  it('counts the charge as the trapezium rule does, whatever the sampling', () => {
    const through = throughCurrent(current([0, 1, 3, 3.5, 7], [0, 10, 10, -20, -20]), 1, 7)!
    // 5 + 20 − 2.5 − 70 coulombs
    expect(gridAt(through, through.ampHours, 7)).toBeCloseTo(-47.5 / 3600, 3)
  })

  it('does not trust what was clipped, and draws a line across it', () => {
    const timeS = Array.from({ length: 101 }, (_, i) => i / 10)
    const through = throughCurrent(
      current(
        timeS,
        timeS.map((t) => (t >= 4 && t < 6 ? Number.NaN : 50)),
      ),
      0.1,
      10,
    )!
    expect(trustedAt(through, 2)).toBe(true)
    expect(trustedAt(through, 5)).toBe(false)
    expect(gridAt(through, through.amperes, 5)).toBeCloseTo(50, 6)
  })

  it('has nothing to say of two samples', () => {
    expect(throughCurrent(current([0, 1], [0, 1]), 1, 1)).toBeNull()
  })
})

describe('copper', () => {
  // IEC 60028: 1/58 Ω·mm²/m at 20 °C, 0.00393 per kelvin
  it('gives the worked busbars', () => {
    expect(copperOhm(1, 50) * 1e6).toBeCloseTo(344.82, 1)
    expect(copperOhm(0.1, 60) * 1e6).toBeCloseTo(28.735, 2)
    expect(copperOhm(1, 50, 60) / copperOhm(1, 50)).toBeCloseTo(1.1572, 4)
    expect(copperOhm(1, 50, 90) / copperOhm(1, 50)).toBeCloseTo(1.2751, 4)
  })
})
