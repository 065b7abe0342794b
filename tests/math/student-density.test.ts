import { describe, expect, it } from 'vitest'
import { studentDensity } from '../../src/math/student-density.ts'

describe('Student density', () => {
  it('with one degree is Cauchy’s: half as dense one scale away, a fifth two scales away (closed form 1 / (1 + x²))', () => {
    const density = studentDensity(new Float64Array([4]), 1, 1)!
    expect(Math.exp(density.log([2]) - density.log([0]))).toBeCloseTo(1 / 2, 12)
    expect(Math.exp(density.log([4]) - density.log([0]))).toBeCloseTo(1 / 5, 12)
  })

  it('with many degrees is the normal one: ratios by hand for a covariance of 4, 1 and correlation 0.8', () => {
    // S⁻¹ of [[4, 1.6], [1.6, 1]] is [[1, −1.6], [−1.6, 4]] / 1.44
    const density = studentDensity(new Float64Array([4, 1.6, 1.6, 1]), 2, 1e9)!
    expect(density.log([0, 0]) - density.log([2, 1])).toBeCloseTo((0.5 * (4 - 2 * 1.6 * 2 + 4)) / 1.44, 6)
    expect(density.log([0, 0]) - density.log([2, -1])).toBeCloseTo((0.5 * (4 + 2 * 1.6 * 2 + 4)) / 1.44, 6)
    const wide = studentDensity(new Float64Array([9, 0, 0, 9]), 2, 1e9)!
    expect(wide.log([0, 0])).toBeCloseTo(-Math.log(9), 12)
  })

  it('gives null for what is no covariance', () => {
    expect(studentDensity(new Float64Array([1, 2, 2, 1]), 2, 5)).toBeNull()
    expect(studentDensity(new Float64Array([0]), 1, 5)).toBeNull()
  })
})
