import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { heldPeak, runsAbove } from '../../src/math/held-runs.ts'
import { integral } from '../../src/math/running-integral.ts'
import { slidingLine } from '../../src/math/sliding-line.ts'

/** Plain version: every window, every minimum. */
function slowHeld(timeS: readonly number[], values: readonly number[], seconds: number): number | null {
  let best: number | null = null
  for (let i = 0; i < timeS.length; i++) {
    let least = Number.POSITIVE_INFINITY
    for (let j = i; j < timeS.length; j++) {
      if (!Number.isFinite(values[j])) break
      least = Math.min(least, values[j]!)
      if (timeS[j]! - timeS[i]! > seconds + 1e-9 && (best === null || least > best)) best = least
    }
  }
  return best
}

describe('the largest value held', () => {
  it('equals the plain version on random samples with gaps', () => {
    fc.assert(
      fc.property(
        fc.array(
          fc.tuple(
            fc.integer({ min: 1, max: 40 }),
            fc.oneof(fc.integer({ min: 0, max: 30 }), fc.constant(Number.NaN)),
          ),
          { maxLength: 60 },
        ),
        fc.integer({ min: 0, max: 120 }),
        (steps, limit) => {
          let at = 0
          const timeS = steps.map(([step]) => (at += step / 100))
          const values = steps.map(([, value]) => value)
          expect(heldPeak(timeS, values, limit / 100)?.value ?? null).toBe(
            slowHeld(timeS, values, limit / 100),
          )
        },
      ),
      { seed: 5, numRuns: 300 },
    )
  })

  it('brackets a run by the good samples around it', () => {
    const [run] = runsAbove([0, 1, 2, 3, 4], [0, 5, 6, 0, 0], 1)
    expect(run).toEqual({ first: 1, last: 2, atLeastS: 1, atMostS: 3, peak: 6 })
    expect(runsAbove([0, 1], [3, 3], 1)[0]?.atMostS).toBe(Number.POSITIVE_INFINITY)
  })
})

describe('running helpers', () => {
  it('a sliding line keeps a ramp and its slope', () => {
    const timeS = Float64Array.from({ length: 200 }, (_, i) => 1000 + i * 0.05)
    const { level, slope } = slidingLine(
      timeS,
      timeS.map((s) => 3 * s - 7),
      0.3,
    )
    expect(slope[100]).toBeCloseTo(3, 6)
    expect(level[100]).toBeCloseTo(3 * timeS[100]! - 7, 6)
  })

  it('the running integral is the trapezium rule, and unknown across gaps', () => {
    const area = integral([0, 1, 2, 10], [0, 2, 2, 2], 3)
    expect(area(1)).toBe(1)
    expect(area(1.5)).toBe(2)
    expect(area(5)).toBeNaN()
    expect(area(-1)).toBeNaN()
  })
})
