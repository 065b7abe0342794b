import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { selectInPlace } from '../../src/math/select.ts'
import {
  median,
  quantile,
  quantileSorted,
  quantiles,
  robustSpread,
  sortedFinite,
} from '../../src/math/stats.ts'

const reading = fc.oneof(fc.double({ noNaN: true, noDefaultInfinity: true }), fc.integer({ min: -3, max: 3 }))

describe('selection gives what sorting gives, to the last digit', () => {
  it('any rank of any series, with many alike or none', () => {
    fc.assert(
      fc.property(fc.array(reading, { minLength: 1, maxLength: 300 }), fc.nat(), (values, pick) => {
        const rank = pick % values.length
        const moved = Float64Array.from(values)
        expect(selectInPlace(moved, rank) + 0).toBe(Float64Array.from(values).sort()[rank]! + 0)
        expect(moved.slice().sort()).toEqual(Float64Array.from(values).sort())
      }),
    )
  })

  it('quantiles, one or several, of series with gaps', () => {
    fc.assert(
      fc.property(
        fc.array(fc.oneof(reading, fc.constantFrom(Number.NaN, Number.POSITIVE_INFINITY)), {
          maxLength: 300,
        }),
        fc.array(fc.double({ min: 0, max: 1, noNaN: true }), { maxLength: 5 }),
        (values, shares) => {
          shares.sort((a, b) => a - b)
          const sorted = sortedFinite(values)
          const expected = shares.map((share) => quantileSorted(sorted, share) + 0)
          expect(shares.map((share) => quantile(values, share) + 0)).toEqual(expected)
          expect(quantiles(values, shares).map((each) => each + 0)).toEqual(expected)
        },
      ),
    )
  })

  // R, help page of mad: x = c(1:9) has mad 2.9652; 1.4826 · 2
  it('spread and median as R gives them', () => {
    expect(median([9, 1, 8, 2, 7, 3, 6, 4, 5])).toBe(5)
    expect(robustSpread([9, 1, 8, 2, 7, 3, 6, 4, 5])).toBeCloseTo(2.9652, 4)
  })

  it('orders made to fool the pivot end in time', () => {
    const n = 200_000
    for (const at of [
      (i: number) => i,
      (i: number) => -i,
      (i: number) => i % 2,
      (i: number) => Math.min(i, n - i),
    ]) {
      const values = Float64Array.from({ length: n }, (_, i) => at(i))
      const before = process.cpuUsage()
      expect(quantile(values, 0.3)).toBe(quantileSorted(values.slice().sort(), 0.3))
      const { user } = process.cpuUsage(before)
      expect(user).toBeLessThan(1e6)
    }
  })
})
