import { describe, expect, it } from 'vitest'
import { biweightSpread } from '../../src/math/biweight.ts'
import { leastSquares } from '../../src/math/least-squares.ts'
import { blockRegression, sharedColumns } from '../../src/math/many-regressions.ts'
import { productsOf, solveWithPriors } from '../../src/math/prior-regression.ts'
import { standardDeviation } from '../../src/math/stats.ts'
import { normalBelow, normalQuantile, studentT } from '../../src/math/student-t.ts'
import { invertSymmetric } from '../../src/math/symmetric.ts'
import { Random } from '../simulator/random.ts'

describe('many regressions on shared columns', () => {
  const n = 600
  const random = new Random(3)
  const x = Float64Array.from({ length: n }, () => random.normal())
  const ones = new Float64Array(n).fill(1)
  const shared = sharedColumns([x, ones])
  const blockOf = Int32Array.from({ length: n }, (_, i) => Math.floor(i / 20))

  it('agrees with Householder least squares where nothing stands out', () => {
    const y = x.map((value) => 3 * value + 1 + 0.1 * random.normal())
    const plain = leastSquares([x, ones], y)!
    const fit = blockRegression(shared, y, blockOf, 30, false)!
    expect(fit.coefficients[0]).toBeCloseTo(plain.coefficients[0]!, 12)
    expect(fit.coefficients[1]).toBeCloseTo(plain.coefficients[1]!, 12)
    expect(fit.spread).toBeCloseTo(plain.residualSpread, 2)
  })

  it('holds the slope with 5 % of gross errors on one side', () => {
    const y = x.map((value, i) => 3 * value + 0.1 * random.normal() + (i % 20 === 0 ? 40 : 0))
    const plain = leastSquares([x, ones], y)!
    const fit = blockRegression(shared, y, blockOf, 30)!
    expect(Math.abs(plain.coefficients[1]!)).toBeGreaterThan(1)
    expect(Math.abs(fit.coefficients[0]! - 3)).toBeLessThan(0.03)
    expect(Math.abs(fit.coefficients[1]!)).toBeLessThan(0.06)
  })

  it('leaves rows out that are not finite, in the series or in a column', () => {
    const y = x.map((value, i) => (i % 3 === 0 ? Number.NaN : 3 * value + 1))
    const fit = blockRegression(shared, y, blockOf, 30)!
    expect(fit.rows).toBe(400)
    expect(fit.coefficients[0]).toBeCloseTo(3, 10)
    expect(fit.residuals[0]).toBeNaN()
  })

  it('covers the truth about 95 times in 100 though errors hang together over seconds', () => {
    // slow regressor and slow noise: plain standard errors are far too small here
    let held = 0
    let heldByPlain = 0
    const runs = 300
    for (let run = 0; run < runs; run++) {
      const slow = (keep: number): Float64Array => {
        let state = 0
        return Float64Array.from({ length: 1200 }, () => (state = keep * state + random.normal()))
      }
      const column = slow(0.9)
      const noise = slow(0.9)
      const y = column.map((value, i) => 2 * value + 0.3 * noise[i]!)
      const intercept = new Float64Array(1200).fill(1)
      const blocks = 30
      const blockOfRow = Int32Array.from({ length: 1200 }, (_, i) => Math.floor(i / 40))
      const fit = blockRegression(sharedColumns([column, intercept]), y, blockOfRow, blocks)!
      const half = studentT(0.975, fit.degrees) * Math.sqrt(fit.covariance[0]!)
      if (Math.abs(fit.coefficients[0]! - 2) < half) held++
      const plain = leastSquares([column, intercept], y)!
      if (Math.abs(plain.coefficients[0]! - 2) < 1.96 * plain.standardErrors[0]!) heldByPlain++
    }
    expect(held / runs).toBeGreaterThan(0.9)
    expect(held / runs).toBeLessThan(0.99)
    expect(heldByPlain / runs).toBeLessThan(0.8)
  })

  it('gives null for dependent columns and for too few rows', () => {
    expect(blockRegression(sharedColumns([x, x]), x, blockOf, 30)).toBeNull()
    expect(
      blockRegression(sharedColumns([x.slice(0, 5), ones.slice(0, 5)]), x.slice(0, 5), blockOf, 30),
    ).toBeNull()
  })
})

describe('regression with priors', () => {
  const n = 500
  const random = new Random(4)
  const [a, b] = [0, 1].map(() => Float64Array.from({ length: n }, () => random.normal()))
  const ones = new Float64Array(n).fill(1)
  const y = a!.map((value, i) => -2 * value + 0.5 * b![i]! + 1 + 0.1 * random.normal())
  const products = productsOf([a!, b!, ones], y)

  it('is plain least squares without priors', () => {
    const plain = leastSquares([a!, b!, ones], y)!
    const found = solveWithPriors(products, [0, 1, 2], [], 0.01, [])!
    for (let j = 0; j < 3; j++) expect(found.coefficients[j]).toBeCloseTo(plain.coefficients[j]!, 10)
    expect(found.variance).toBeCloseTo(plain.sumOfSquares / n, 10)
  })

  it('holds at zero what must not rise above it, and draws to what is expected', () => {
    const held = solveWithPriors(products, [0, 1, 2], [], 0.01, [0, 1])!
    expect(Math.abs(held.coefficients[1]!)).toBeLessThan(1e-6)
    expect(held.coefficients[0]).toBeCloseTo(-2, 1)
    const drawn = solveWithPriors(products, [0, 1, 2], [{ at: 0, mean: -3, spread: 1e-6 }], 0.01, [])!
    expect(drawn.coefficients[0]).toBeCloseTo(-3, 4)
    expect(solveWithPriors(products, [0, 0], [], 0.01, [])).toBeNull()
  })
})

describe('Student t', () => {
  // the printed table of every handbook (0.975 column)
  it.each([
    [1, 12.706],
    [2, 4.303],
    [5, 2.571],
    [10, 2.228],
    [30, 2.042],
    [100, 1.984],
    [Number.POSITIVE_INFINITY, 1.96],
  ])('0.975 at %d degrees is %d', (degrees, table) => {
    expect(studentT(0.975, degrees)).toBeCloseTo(table, 3)
    expect(studentT(0.025, degrees)).toBeCloseTo(-table, 3)
  })

  it('is nothing outside its range', () => {
    expect(studentT(0.975, 0)).toBeNaN()
    expect(studentT(1, 10)).toBeNaN()
  })

  it('normal quantile and distribution undo each other', () => {
    for (const share of [0.001, 0.1, 0.5, 0.9, 0.9987])
      expect(normalBelow(normalQuantile(share))).toBeCloseTo(share, 10)
    expect(normalQuantile(0.75)).toBeCloseTo(0.6744897501960817, 10)
  })
})

describe('biweight spread', () => {
  const random = new Random(9)

  it('is the standard deviation for normal values and hardly moves with a tenth of strays', () => {
    const values = Array.from({ length: 2000 }, () => random.normal())
    expect(biweightSpread(values)).toBeCloseTo(standardDeviation(values), 1)
    const stray = values.map((value, i) => (i % 10 === 0 ? 50 : value))
    expect(biweightSpread(stray)).toBeLessThan(1.25)
  })

  it('knows nothing of one value and nothing of spread where all are equal', () => {
    expect(biweightSpread([4])).toBeNaN()
    expect(biweightSpread([4, 4, 4])).toBe(0)
    expect(biweightSpread([1, 2, Number.NaN, 3])).toBeGreaterThan(0)
  })
})

it('a symmetric inverse times its matrix is the unit matrix; a singular one has none', () => {
  const a = [4, 2, 0.6, 2, 5, 1, 0.6, 1, 3]
  const inverse = invertSymmetric(a, 3)!
  for (let i = 0; i < 3; i++)
    for (let j = 0; j < 3; j++) {
      let sum = 0
      for (let m = 0; m < 3; m++) sum += a[i * 3 + m]! * inverse[m * 3 + j]!
      expect(sum).toBeCloseTo(i === j ? 1 : 0, 12)
    }
  expect(invertSymmetric([1, 2, 2, 4], 2)).toBeNull()
})
