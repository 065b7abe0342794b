import { describe, expect, test } from 'vitest'
import type { Channel } from '../../../shared/drive.ts'
import { bestOfEach, spareSentences } from '../../../src/drive/cleaning/spares.ts'
import { driveFromColumns } from '../../helpers/drive-from-text.ts'

const reading = (
  file: string,
  rateHz: number,
  of: (s: number) => number,
  rest: Partial<Channel> = {},
): Channel => {
  const timeS = Float64Array.from({ length: 60 * rateHz }, (_, i) => i / rateHz)
  return {
    id: 'pack_current',
    unit: 'A',
    timeS,
    values: timeS.map(of),
    fresh: null,
    labels: null,
    file,
    from: 'I',
    step: 0.1,
    polarity: null,
    ...rest,
  }
}

describe('one channel in two logs', () => {
  test('the faster is used, the other kept, and what they differ by is said', () => {
    const slow = reading('bms.csv', 1, (s) => 10 * s + 2)
    const fast = reading('car.csv', 10, (s) => 10 * s)
    const { channels, spares } = bestOfEach([slow, fast])
    expect(channels.get('pack_current')).toBe(fast)
    expect(spares).toEqual([slow])
    const drive = { ...driveFromColumns([0, 60], {}), channels, spares }
    expect(spareSentences(drive)).toEqual([
      'Pack current is logged twice; car.csv (10 samples a second) is used, not bms.csv (1 samples a second); they differ by 2 A (median; spread 0 A).',
    ])
  })

  test('a recorder that began a new file: the readings are joined, time arrays still shared', () => {
    const one = reading('part 1.csv', 10, (s) => s)
    const later = one.timeS.map((s) => s + 65)
    const two = { ...one, file: 'part 2.csv', timeS: later, values: one.values.map((v) => v + 65) }
    const other = (channel: Channel): Channel => ({ ...channel, id: 'pack_voltage' })
    const { channels, spares } = bestOfEach([two, other(two), one, other(one)])
    const joined = channels.get('pack_current')!
    expect(spares).toEqual([])
    expect(joined.timeS.length).toBe(1200)
    expect([joined.timeS[599], joined.timeS[600]]).toEqual([59.9, 65])
    expect(joined.values[1199]).toBeCloseTo(124.9, 9)
    expect(channels.get('pack_voltage')!.timeS).toBe(joined.timeS)
  })

  test('of like rates the finer, of like steps the one with more believable samples', () => {
    const coarse = reading('a', 10, (s) => s, { step: 1 })
    const fine = reading('b', 10, (s) => s, { step: 0.1 })
    expect(bestOfEach([coarse, fine]).channels.get('pack_current')).toBe(fine)
    const holes = reading('c', 10, (s) => (s < 20 ? Number.NaN : s))
    expect(bestOfEach([holes, fine]).channels.get('pack_current')).toBe(fine)
  })
})
