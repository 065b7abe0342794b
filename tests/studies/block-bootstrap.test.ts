import { describe, expect, it } from 'vitest'
import { leastSquares } from '../../src/math/least-squares.ts'
import { blockRegression, sharedColumns } from '../../src/math/many-regressions.ts'
import { mean, standardDeviation } from '../../src/math/stats.ts'
import { Random } from '../simulator/random.ts'
import { blockBootstrap } from './block-bootstrap.ts'

/** A series that hangs together: each value keeps `keep` of the last. */
function chained(n: number, keep: number, random: Random): Float64Array {
  let state = 0
  return Float64Array.from({ length: n }, () => (state = keep * state + random.normal()))
}

describe('moving-block bootstrap', () => {
  it('gives the variance of the mean that Künsch (1989) works out in closed form', () => {
    // drawing k of the n − l + 1 overlapping blocks: var* = (1 / k) · mean (block mean − mean of block means)²
    const random = new Random(1)
    const series = chained(400, 0.7, random)
    const length = 20
    const blockMeans = Array.from({ length: 381 }, (_, start) => mean(series.subarray(start, start + length)))
    const centre = mean(blockMeans)
    const exact = Math.sqrt(mean(blockMeans.map((value) => (value - centre) ** 2)) / 20)
    const figures = blockBootstrap(
      400,
      length,
      4000,
      (rows) => mean(Float64Array.from(rows, (i) => series[i]!)),
      random,
    )
    expect(standardDeviation(figures) / exact).toBeGreaterThan(0.95)
    expect(standardDeviation(figures) / exact).toBeLessThan(1.05)
  })

  it('agrees with the analytic error of the cells\u2019 regression, where the plain one is far too small', () => {
    const random = new Random(2)
    const ratios: number[] = []
    for (let run = 0; run < 12; run++) {
      const n = 1500
      const x = chained(n, 0.9, random)
      const noise = chained(n, 0.9, random)
      const y = x.map((value, i) => value + noise[i]!)
      const ones = new Float64Array(n).fill(1)
      const blockOf = Int32Array.from({ length: n }, (_, i) => Math.floor(i / 50))
      const analytic = Math.sqrt(
        blockRegression(sharedColumns([x, ones]), y, blockOf, 30, false)!.covariance[0]!,
      )
      const slope = (rows: Int32Array): number =>
        leastSquares(
          [Float64Array.from(rows, (i) => x[i]!), new Float64Array(rows.length).fill(1)],
          Float64Array.from(rows, (i) => y[i]!),
        )!.coefficients[0]!
      const drawn = standardDeviation(blockBootstrap(n, 50, 150, slope, random))
      ratios.push(analytic / drawn)
      expect(leastSquares([x, ones], y)!.standardErrors[0]!).toBeLessThan(0.6 * drawn)
    }
    expect(mean(ratios)).toBeGreaterThan(0.85)
    expect(mean(ratios)).toBeLessThan(1.15)
  })
})
