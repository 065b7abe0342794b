import { describe, expect, it } from 'vitest'
import { fitExponential } from '../../src/math/exponential.ts'
import { Random } from '../simulator/random.ts'

const times = (n: number, stepS: number): number[] => Array.from({ length: n }, (_, i) => i * stepS)

describe('fitting one exponential', () => {
  it('finds the RC law of the textbook exactly: 400 V, R·C = 0.1 s', () => {
    const t = times(30, 0.02)
    const fit = fitExponential(
      t,
      t.map((at) => 400 * (1 - Math.exp(-at / 0.1))),
    )!
    expect(fit.tau).toBeCloseTo(0.1, 8)
    expect(fit.plateau).toBeCloseTo(400, 6)
    expect(fit.amplitude).toBeCloseTo(-400, 6)
  })

  it('finds a fall to a known plateau', () => {
    const t = times(20, 0.1)
    const fit = fitExponential(
      t,
      t.map((at) => 333 * Math.exp(-at / 1.07)),
      0,
    )!
    expect(fit.tau).toBeCloseTo(1.07, 8)
    expect(fit.plateauError).toBe(0)
  })

  it('covers the truth about 95 times in 100 with two standard errors', () => {
    const random = new Random(5)
    const t = times(40, 0.02)
    let tau = 0
    let plateau = 0
    for (let run = 0; run < 200; run++) {
      const fit = fitExponential(
        t,
        t.map((at) => 300 - 300 * Math.exp(-at / 0.15) + random.normal()),
      )!
      if (Math.abs(fit.tau - 0.15) < 1.96 * fit.tauError) tau++
      if (Math.abs(fit.plateau - 300) < 1.96 * fit.plateauError) plateau++
    }
    for (const covered of [tau, plateau]) {
      expect(covered).toBeGreaterThan(178)
      expect(covered).toBeLessThan(200)
    }
  })

  it('gives nothing for a straight line, a step or too few samples', () => {
    expect(fitExponential(times(3, 1), [0, 1, 2])).toBeNull()
    expect(fitExponential(times(20, 1), times(20, 2))).toBeNull()
    expect(fitExponential(times(20, 1), new Array(20).fill(7))).toBeNull()
  })
})
