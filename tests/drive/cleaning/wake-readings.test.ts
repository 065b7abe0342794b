import { describe, expect, test } from 'vitest'
import type { Cleaned } from '../../../src/drive/cleaning/clean-channel.ts'
import { dropWakeReadings, UNIT_RESET } from '../../../src/drive/cleaning/wake-readings.ts'

/** Cells near 3.9 V and sensors near 21 °C, a scan every half second; `odd` scans read 0 V, 0.0 and 156 °C. */
function box(
  scans: number,
  odd: readonly number[],
  timeS = Float64Array.from({ length: scans }, (_, i) => i / 2),
  usualC = 21,
) {
  const series = (id: string, unit: string, usual: number, woke: number): Cleaned => ({
    id,
    sureness: 1,
    why: '',
    unit,
    conversion: 'none',
    skipped: [],
    series: {
      name: id,
      unit,
      timeS,
      values: Float64Array.from({ length: scans }, (_, i) =>
        odd.includes(i) ? woke : usual + (i % 2) / 1000,
      ),
      labels: null,
      fresh: null,
      node: null,
    } as Cleaned['series'],
  })
  return [
    ...[1, 2, 3, 4, 5, 6].map((k) => series(`cell_voltage.${k}`, 'V', 3.9, 0)),
    ...[1, 2, 3, 4].map((k) => series(`module_temperature.${k}`, '°C', usualC, k % 2 === 0 ? 156 : 0)),
  ]
}

const lost = (all: readonly Cleaned[]): number[] => [
  ...new Set(
    all.flatMap(({ series }) => [...series.values.keys()].filter((i) => Number.isNaN(series.values[i]!))),
  ),
]

describe('first readings of a box that wakes', () => {
  test('one scan at the start is no reading, and is counted', () => {
    const { cleaned, events } = dropWakeReadings(box(40, [0]))
    expect(lost(cleaned)).toEqual([0])
    expect(events).toEqual([])
    expect(cleaned[0]!.skipped[0]!.what).toContain('woke')
  })

  test('on a cold day 0.0 °C is no reading either, though only 5 K off', () => {
    const { cleaned } = dropWakeReadings(box(40, [0], undefined, 5))
    for (const { series } of cleaned) expect(series.values[0]).toBeNaN()
    expect(lost(cleaned)).toEqual([0])
  })

  test('so is one after a silence', () => {
    const timeS = Float64Array.from({ length: 40 }, (_, i) => i / 2 + (i >= 20 ? 60 : 0))
    const { cleaned, events } = dropWakeReadings(box(40, [0, 20], timeS))
    expect(lost(cleaned)).toEqual([0, 20])
    expect(events).toEqual([])
  })

  test('in mid log it is a unit that started again: an event', () => {
    const { cleaned, events } = dropWakeReadings(box(40, [22]))
    expect(lost(cleaned)).toEqual([22])
    expect(events.map(({ at_s }) => at_s)).toEqual([11])
    expect(events[0]!.what).toContain(UNIT_RESET)
  })

  test('one sensor that jumps is left to what judges sensors', () => {
    const all = box(40, [])
    all[7]!.series.values[12] = 156
    expect(lost(dropWakeReadings(all).cleaned)).toEqual([])
  })

  test('a pack that is cold at 0 °C and stays so is believed', () => {
    const all = box(40, [])
    for (const each of all) if (each.unit === '°C') each.series.values.fill(0)
    expect(lost(dropWakeReadings(all).cleaned)).toEqual([])
  })
})
