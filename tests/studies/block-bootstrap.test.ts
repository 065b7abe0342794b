import { describe, expect, it } from 'vitest'
import { leastSquares } from '../../src/math/least-squares.ts'
import { blockRegression, sharedColumns } from '../../src/math/many-regressions.ts'
import { mean, median, standardDeviation } from '../../src/math/stats.ts'
import { Random } from '../simulator/random.ts'
import { blockBootstrap } from './block-bootstrap.ts'

/** A series that hangs together: each value keeps `keep` of the last. */
function chained(n: number, keep: number, random: Random): Float64Array {
  let state = 0
  return Float64Array.from({ length: n }, () => (state = keep * state + random.normal()))
}

/**
 * Lynx trapped a year in the Mackenzie River district, 1821 to 1934: data set `lynx` of R's package `datasets`; Campbell
 * and Walker, Journal of the Royal Statistical Society A 140 (1977) 411.
 */
const LYNX = [
  269, 321, 585, 871, 1475, 2821, 3928, 5943, 4950, 2577, 523, 98, 184, 279, 409, 2285, 2685, 3409, 1824, 409,
  151, 45, 68, 213, 546, 1033, 2129, 2536, 957, 361, 377, 225, 360, 731, 1638, 2725, 2871, 2119, 684, 299,
  236, 245, 552, 1623, 3311, 6721, 4254, 687, 255, 473, 358, 784, 1594, 1676, 2251, 1426, 756, 299, 201, 229,
  469, 736, 2042, 2811, 4431, 2511, 389, 73, 39, 49, 59, 188, 377, 1292, 4031, 3495, 587, 105, 153, 387, 758,
  1307, 3465, 6991, 6313, 3794, 1836, 345, 382, 808, 1388, 2713, 3800, 3091, 2985, 3790, 674, 81, 80, 108,
  229, 399, 1132, 2432, 3574, 2935, 1537, 529, 485, 662, 1000, 1590, 2657, 3396,
]

/** Correlation of neighbours about the mean. */
function lagOne(series: Float64Array): number {
  const centre = mean(series)
  let together = 0
  let squares = 0
  for (let i = 0; i < series.length; i++) {
    squares += (series[i]! - centre) ** 2
    if (i > 0) together += (series[i]! - centre) * (series[i - 1]! - centre)
  }
  return together / squares
}

describe('moving-block bootstrap', () => {
  // The documented example of R's `tsboot` (series log(lynx), blocks of 20), with more draws and blocks of 10 as well.
  // R 4.2.2, package boot 1.3-28.1, Debian 12, set.seed(1):
  //   f <- function(x) { x <- as.numeric(x); n <- length(x); m <- mean(x)
  //     c(m, median(x), sum((x[-1] - m) * (x[-n] - m)) / sum((x - m)^2)) }
  //   b <- tsboot(log(lynx), f, R = 100000, l = l, sim = "fixed", endcorr = FALSE); apply(b$t, 2, sd); colMeans(b$t)
  // `endcorr = FALSE`: blocks do not wrap round the series' end, as ours do not.
  it.each([
    { length: 10, errors: [0.13826471, 0.18883888, 0.04344498], means: [6.6605206, 6.6653955, 0.7013715] },
    { length: 20, errors: [0.12857844, 0.16790631, 0.03021204], means: [6.6360024, 6.6358096, 0.7433324] },
  ])(
    'gives what R\u2019s tsboot gives on its documented series, blocks of $length',
    ({ length, errors, means }) => {
      const series = Float64Array.from(LYNX, Math.log)
      const draws = 6000
      ;[mean, median, lagOne].forEach((statistic, at) => {
        const figures = blockBootstrap(
          series.length,
          length,
          draws,
          (rows) => statistic(Float64Array.from(rows, (i) => series[i]!)),
          new Random(4),
        )
        // Luck of 6000 draws: the mean to error/√draws, the error to a share of 1/√(2·draws) (0.9 %); four of each, the
        // tails being a little heavier than normal.
        expect(Math.abs(mean(figures) - means[at]!)).toBeLessThan((4 * errors[at]!) / Math.sqrt(draws))
        expect(Math.abs(standardDeviation(figures) / errors[at]! - 1)).toBeLessThan(4 / Math.sqrt(2 * draws))
      })
    },
  )

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
