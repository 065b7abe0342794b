import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { binWitnesses } from '../../src/drive/current/power-balance.ts'
import { findSegments } from '../../src/drive/segments.ts'
import { HeardTime } from '../../src/samples/heard-time.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

const DAY_S = 86_400

describe('heard time', () => {
  it('is the drive’s own time where nothing is silent for ten minutes', () => {
    const timeS = Float64Array.from({ length: 50 }, (_, i) => i * 7.3)
    const heard = new HeardTime([timeS], 360)
    expect(heard.whole).toBe(true)
    expect(heard.heardAll(timeS)).toBe(timeS)
    expect([...heard.evenly(0.1)]).toEqual(Array.from({ length: 3600 }, (_, i) => i * 0.1))
  })

  it('goes there and back, one by one as all at once, and never runs backwards', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: 0.01, max: 5000, noNaN: true }), { minLength: 2, maxLength: 40 }),
        (steps) => {
          let now = 0
          const timeS = Float64Array.from(steps, (step) => (now += step))
          const heard = new HeardTime([timeS], now)
          const all = heard.heardAll(timeS)
          timeS.forEach((atS, i) => {
            expect(all[i]!).toBeCloseTo(heard.heard(atS), 6)
            expect(heard.drive(all[i]!)).toBeLessThanOrEqual(atS + 1e-6)
            if (i > 0) expect(all[i]!).toBeGreaterThanOrEqual(all[i - 1]! - 1e-9)
          })
          const grid = heard.evenly(30)
          for (let i = 0; i < grid.length; i++) expect(heard.heard(grid[i]!)).toBeCloseTo(i * 30, 6)
        },
      ),
      { numRuns: 200, seed: 14 },
    )
  })

  it('makes grids of what was logged, not of what a clock claims to lie between', () => {
    const timeS = [0, 1, 2, 3, 30 * DAY_S, 30 * DAY_S + 1, 30 * DAY_S + 2]
    const drive = driveFromColumns(timeS, {
      pack_current: [0, 10, 20, 0, 0, 10, 0],
      pack_voltage: [90, 89, 88, 90, 90, 89, 90],
      speed: [0, 20, 20, 0, 0, 20, 0],
    })
    const bins = binWitnesses(drive.channels, drive.channels.get('pack_current')!, drive.durationS)
    expect(bins.count).toBeLessThan(1000)
    expect(bins.startOf(Math.floor(bins.placeOf(30 * DAY_S + 1.5)))).toBeGreaterThan(30 * DAY_S - 2)
    const segments = findSegments(drive.channels, drive.durationS)
    expect(
      segments.some(({ type, span_s: [from, to] }) => type === 'unknown' && to - from > 29 * DAY_S),
    ).toBe(true)
    expect(segments.at(-1)!.span_s[1]).toBe(drive.durationS)
  })
})
