import { describe, expect, test } from 'vitest'
import { instantMs, laterStamp } from '../../../src/drive/clock/wall-clock.ts'

describe('wall clocks', () => {
  test.each([
    ['2026-03-14T09:12:33.250Z', -12.5, '2026-03-14T09:12:20.750Z'],
    ['2026-03-14T23:59:59.000+01:00', 2, '2026-03-15T00:00:01.000+01:00'],
    ['2026-03-14T09:12:33', -0.25, '2026-03-14T09:12:32.750'],
    ['2026-03-14T09:12:33', 0.0001, '2026-03-14T09:12:33'],
    ['no date', 5, 'no date'],
  ])('%s and %f s: %s', (stamp, seconds, want) => {
    expect(laterStamp(stamp, seconds)).toBe(want)
  })

  test('a stamp without a zone does not depend on where the program runs', () => {
    expect(instantMs('2026-03-14T09:12:33')).toBe(Date.UTC(2026, 2, 14, 9, 12, 33))
    expect(instantMs('2026-03-14T09:12:33+01:00')).toBe(Date.UTC(2026, 2, 14, 8, 12, 33))
  })
})
