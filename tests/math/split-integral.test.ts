import { describe, expect, it } from 'vitest'
import { heldRuns, worstRun } from '../../src/math/held.ts'
import { sampleNoise } from '../../src/math/sample-noise.ts'
import { runningSplit, splitIntegral } from '../../src/math/split-integral.ts'
import { noise } from '../helpers/stop-and-go.ts'

describe('integral split at zero', () => {
  it('gives a triangle’s two halves exactly (½ · base · height)', () => {
    const found = splitIntegral([0, 2], [1, -3], 5)
    expect(found.above).toBeCloseTo(0.5 * 0.5 * 1, 12)
    expect(found.below).toBeCloseTo(0.5 * 1.5 * 3, 12)
    expect(found.aboveS).toBeCloseTo(0.5, 12)
    expect(found.belowS).toBeCloseTo(1.5, 12)
  })

  it('gives the sine’s two arches, 2 each (∫₀^π sin)', () => {
    const timeS = Float64Array.from({ length: 6284 }, (_, i) => i / 1000)
    const found = splitIntegral(timeS, timeS.map(Math.sin), 5)
    expect(found.above).toBeCloseTo(2, 5)
    expect(found.below).toBeCloseTo(2, 5)
  })

  it('its running sums end in the same figures', () => {
    const timeS = [0, 2, 3, 5, 6, 20, 21]
    const values = [1, -3, Number.NaN, 2, 2, -1, 0]
    const { above, below } = runningSplit(timeS, values, 5)
    const all = splitIntegral(timeS, values, 5)
    expect([above.at(-1), below.at(-1)]).toEqual([all.above, all.below])
  })

  it('bridges missing samples, leaves long gaps out and counts them', () => {
    const found = splitIntegral([0, 1, 2, 10, 11], [1, Number.NaN, 1, 1, 1], 5)
    expect(found).toMatchObject({ above: 3, below: 0, gapsS: 8 })
  })

  it('has an error that covers steps between samples', () => {
    // a step of 1 at a uniform moment: error of the trapezium is uniform in ±½, so within 1.96 / √12 · … 95 of 100
    const gauss = noise(4)
    let inside = 0
    for (let run = 0; run < 200; run++) {
      const at = Array.from({ length: 8 }, (_, k) => 10 * k + 5 + ((gauss() * 1000) % 1))
      const timeS = Float64Array.from({ length: 90 }, (_, i) => i)
      const values = timeS.map((t) => (at.filter((step) => step <= t).length % 2 === 1 ? 1 : 0))
      const truth = at.reduce((sum, step, k) => sum + (k % 2 === 0 ? -step : step), 0)
      const found = splitIntegral(timeS, values, 5)
      if (Math.abs(found.above - truth) <= 1.96 * found.aboveError) inside++
    }
    expect(inside / 200).toBeGreaterThan(0.9)
  })
})

describe('readings past a limit', () => {
  const timeS = Float64Array.from({ length: 100 }, (_, i) => i / 100)
  const values = timeS.map((t) => (t >= 0.2 && t < 0.8 ? 2 : t === 0.9 ? 9 : 0))

  it('count from the hold time on, not for a single sample', () => {
    expect(heldRuns(timeS, values, (i) => values[i]! > 1, 0.5, 1)).toHaveLength(1)
    expect(heldRuns(timeS, values, (i) => values[i]! > 1, 0.7, 1)).toHaveLength(0)
    expect(
      worstRun(
        heldRuns(timeS, values, (i) => values[i]! > 1, 0.5, 1),
        1,
      )!.level,
    ).toBe(2)
  })

  it('count with two samples on a slow log', () => {
    const slow = [0, 1, 2, 3]
    expect(heldRuns(slow, [0, 2, 2, 0], (i) => i === 1 || i === 2, 0.5, 1)).toHaveLength(1)
    expect(heldRuns(slow, [0, 2, 0, 0], (i) => i === 1, 0.5, 1)).toHaveLength(0)
  })
})

it('sample noise is the spread of normal noise on a slope', () => {
  const gauss = noise(11)
  const values = Float64Array.from({ length: 4000 }, (_, i) => i / 50 + 0.3 * gauss())
  expect(sampleNoise(values)).toBeGreaterThan(0.27)
  expect(sampleNoise(values)).toBeLessThan(0.33)
})
