import { describe, expect, it } from 'vitest'
import { leastSquares } from '../../src/math/least-squares.ts'
import { blockRegression, sharedColumns } from '../../src/math/many-regressions.ts'
import { nonlinearFit } from '../../src/math/nonlinear-fit.ts'
import { MAD_TO_SIGMA, mean, robustSpread, standardDeviation } from '../../src/math/stats.ts'

/** Relative agreement: digits of a certified value. */
const digits = (found: number, certified: number): number =>
  -Math.log10(Math.abs(found / certified - 1) + 1e-16)

/**
 * NIST StRD Norris (linear regression, 36 points, observed). Data and certified values: NIST Statistical Reference
 * Datasets, as in SciPy's copy of Norris.dat.
 */
const NORRIS_X = [
  0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0,
  447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3,
  229.2, 669.1, 448.9, 0.5,
]
const NORRIS_Y = [
  0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3,
  448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6,
  228.9, 668.4, 449.2, 0.2,
]

describe('least squares against NIST StRD Norris', () => {
  const ones = NORRIS_X.map(() => 1)

  it('gives the certified coefficients, standard deviations and residual sum', () => {
    const fit = leastSquares([ones, NORRIS_X], NORRIS_Y)!
    expect(digits(fit.coefficients[0]!, -0.262323073774029)).toBeGreaterThan(11)
    expect(digits(fit.coefficients[1]!, 1.00211681802045)).toBeGreaterThan(13)
    expect(digits(fit.standardErrors[0]!, 0.232818234301152)).toBeGreaterThan(11)
    expect(digits(fit.standardErrors[1]!, 0.429796848199937e-3)).toBeGreaterThan(11)
    expect(digits(fit.residualSpread, 0.884796396144373)).toBeGreaterThan(11)
    expect(digits(fit.sumOfSquares, 26.6173985294224)).toBeGreaterThan(11)
    expect(fit.degreesOfFreedom).toBe(34)
  })

  it('gives them by the shared columns too, as far as normal equations keep digits', () => {
    const shared = sharedColumns([Float64Array.from(NORRIS_X), Float64Array.from(ones)])
    const blockOf = Int32Array.from(NORRIS_X, (_, i) => i)
    const fit = blockRegression(shared, Float64Array.from(NORRIS_Y), blockOf, 36, false)!
    expect(digits(fit.coefficients[0]!, 1.00211681802045)).toBeGreaterThan(11)
    expect(digits(fit.coefficients[1]!, -0.262323073774029)).toBeGreaterThan(9)
  })
})

/** NIST StRD Misra1a (nonlinear, lower difficulty): y = b1 (1 − exp(−b2 x)), the shape of an RC charge. */
const MISRA_X = [
  77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0,
]
const MISRA_Y = [
  10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.4, 75.47, 81.78,
]

describe('nonlinear least squares against NIST StRD Misra1a', () => {
  it.each([{ start: [500, 0.0001] }, { start: [250, 0.0005] }])(
    'comes to the certified values from $start',
    ({ start }) => {
      const fit = nonlinearFit(
        (b, out) => {
          for (const [i, x] of MISRA_X.entries()) out[i] = b[0]! * (1 - Math.exp(-b[1]! * x))
        },
        MISRA_Y,
        start,
        [100, 1e-4],
        [
          [1, 5000],
          [1e-6, 1],
        ],
        null,
        { rounds: 200, huber: 100 },
      )
      expect(digits(fit.parameters[0]!, 2.3894212918e2)).toBeGreaterThan(4)
      expect(digits(fit.parameters[1]!, 5.5015643181e-4)).toBeGreaterThan(4)
      const squares = fit.residuals.reduce((sum, r) => sum + r * r, 0)
      expect(digits(squares, 1.2455138894e-1)).toBeGreaterThan(6)
    },
  )
})

describe('mean and spread against NIST StRD univariate sets', () => {
  const alternating = (first: number, low: number, high: number): number[] => [
    first,
    ...Array.from({ length: 1000 }, (_, i) => (i % 2 === 0 ? low : high)),
  ]

  it('NumAcc1: 10000001, 10000003, 10000002', () => {
    expect(mean([10000001, 10000003, 10000002])).toBe(10000002)
    expect(standardDeviation([10000001, 10000003, 10000002])).toBe(1)
  })

  it('NumAcc3 and NumAcc4 keep the certified mean and standard deviation 0.1', () => {
    const three = alternating(1000000.2, 1000000.1, 1000000.3)
    expect(digits(mean(three), 1000000.2)).toBeGreaterThan(14)
    expect(digits(standardDeviation(three), 0.1)).toBeGreaterThan(8)
    const four = alternating(10000000.2, 10000000.1, 10000000.3)
    expect(digits(mean(four), 10000000.2)).toBeGreaterThan(14)
    // the data themselves hold no more digits than this in double precision
    expect(digits(standardDeviation(four), 0.1)).toBeGreaterThan(7)
  })

  it('median absolute deviation of 1 … 9 is 2, scaled as SciPy and statsmodels scale it', () => {
    expect(MAD_TO_SIGMA).toBeCloseTo(1 / 0.6744897501960817, 14)
    expect(robustSpread([1, 2, 3, 4, 5, 6, 7, 8, 9])).toBeCloseTo(2.965204437, 9)
  })
})
