import { describe, expect, it } from 'vitest'
import { discoveries } from '../../src/math/false-discoveries.ts'

/** Benjamini & Hochberg, J. R. Stat. Soc. B 57 (1995), section 4.1: fifteen endpoints of a trial of thrombolysis. */
const PUBLISHED = [
  0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.324, 0.4262, 0.5719, 0.6528,
  0.759, 1,
]
const told = (...of: Parameters<typeof discoveries>) => discoveries(...of).filter(Boolean).length

describe('false discoveries', () => {
  it('tells the four hypotheses of the published example, whatever their order', () => {
    expect(told(PUBLISHED, 0.05, 'independent')).toBe(4)
    expect(discoveries([...PUBLISHED].reverse(), 0.05, 'independent')).toEqual(
      [...discoveries(PUBLISHED, 0.05, 'independent')].reverse(),
    )
    // Bonferroni tells three of them (the paper's own comparison)
    expect(PUBLISHED.filter((p) => p <= 0.05 / 15)).toHaveLength(3)
  })

  it('under any dependence divides by 1 + 1/2 + … + 1/15 = 3.318: the first three stay', () => {
    // 3 · 0.05 / (15 · 3.31823) = 0.003014 ≥ 0.0019; 4 · 0.05 / 49.77 = 0.004018 < 0.0095 (by hand)
    expect(told(PUBLISHED, 0.05)).toBe(3)
    expect(told([0.05], 0.05)).toBe(1)
    expect(told([], 0.05)).toBe(0)
    expect(told([Number.NaN, 0.9], 0.05)).toBe(0)
  })

  it('tells in few of many drives where there is nothing', () => {
    let seed = 7
    const even = () => {
      seed = (seed * 48271) % 2147483647
      return seed / 2147483647
    }
    let drives = 0
    for (let n = 0; n < 1000; n++)
      if (told(Array.from({ length: 100 }, even), 0.05, 'independent') > 0) drives++
    // 5 % ± 3 standard errors
    expect(drives).toBeGreaterThan(29)
    expect(drives).toBeLessThan(71)
  })
})
