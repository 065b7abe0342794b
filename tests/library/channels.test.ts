import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import fc from 'fast-check'
import { afterAll, describe, expect, it } from 'vitest'
import type { Channel } from '../../shared/drive.ts'
import { ChannelReader } from '../../src/library/read-channels.ts'
import { breaks, storeChannels } from '../../src/library/store-channels.ts'
import { buildPyramid, levelSizes } from '../../src/math/min-max-pyramid.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

const dir = mkdtempSync(join(tmpdir(), 'aftermile-channels-'))
afterAll(() => rmSync(dir, { recursive: true, force: true }))

let count = 0
function stored(channels: readonly Channel[]): ChannelReader {
  const folder = join(dir, String(count++))
  storeChannels(folder, { channels: new Map(channels.map((channel) => [channel.id, channel])) })
  return new ChannelReader(folder)
}

const channelOf = (timeS: number[], values: number[], more: Partial<Channel> = {}): Channel => ({
  ...driveFromColumns(timeS, { speed: values }).channels.get('speed')!,
  ...more,
})

describe('stored channels', () => {
  it('come back as they were, sample for sample', () => {
    const timeS = Array.from({ length: 1000 }, (_, i) => i * 0.1)
    const values = timeS.map((t) => Math.sin(t) * 80)
    values[17] = Number.NaN
    const fresh = Uint8Array.from(timeS, (_, i) => i % 2)
    const reader = stored([channelOf(timeS, values, { fresh, polarity: 'inverted', from: 'V [km/h]' })])
    const back = reader.channel('speed')
    reader.close()
    expect([...back.timeS]).toEqual(timeS)
    expect([...back.values]).toEqual(values)
    expect(back.fresh).toEqual(fresh)
    expect(back).toMatchObject({ polarity: 'inverted', from: 'V [km/h]', unit: 'km/h' })
  })

  it('keep single precision only where it is finer than a thousandth of the step', () => {
    const timeS = [0, 1, 2]
    const coarse = stored([channelOf(timeS, [3.001, 3.002, 3.003], { step: 0.001 })])
    const fine = stored([channelOf(timeS, [300000.001, 300000.002, 300000.003], { step: 0.001 })])
    expect(coarse.stored('speed')!.stored).toBe('f32')
    expect(fine.stored('speed')!.stored).toBe('f64')
    coarse.close()
    fine.close()
  })
})

describe('a window of points', () => {
  it('never loses a spike, at whatever zoom (against the plain search of all samples)', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 6000 }),
        fc.array(fc.tuple(fc.nat(), fc.double({ min: -1e4, max: 1e4, noNaN: true })), { maxLength: 8 }),
        fc.double({ min: 0, max: 1, noNaN: true }),
        fc.double({ min: 0, max: 1, noNaN: true }),
        fc.integer({ min: 50, max: 400 }),
        (n, spikes, a, b, buckets) => {
          const values = Array.from({ length: n }, (_, i) => Math.sin(i / 50))
          for (const [at, height] of spikes) values[at % n] = height
          const reader = stored([
            channelOf(
              values.map((_, i) => i * 0.01),
              values,
            ),
          ])
          const end = n * 0.01
          const span = [Math.min(a, b) * end, Math.max(a, b) * end + 0.001] as const
          const { timeS, values: drawn } = reader.points('speed', span, buckets)
          reader.close()
          const inside = values.filter((_, i) => i * 0.01 >= span[0] && i * 0.01 <= span[1])
          const highest = Math.max(...inside)
          const lowest = Math.min(...inside)
          const most = Math.max(...drawn)
          const least = Math.min(...drawn)
          expect(most).toBeGreaterThanOrEqual(Math.fround(highest) - 1e-3)
          expect(least).toBeLessThanOrEqual(Math.fround(lowest) + 1e-3)
          for (let i = 1; i < timeS.length; i++) expect(timeS[i]!).toBeGreaterThanOrEqual(timeS[i - 1]!)
          expect(timeS.length).toBeLessThanOrEqual(Math.max(64, 2 * buckets * 3))
        },
      ),
      { numRuns: 40, seed: 4 },
    )
  })

  it('breaks the line where the log is silent, thinned or not', () => {
    const timeS = Array.from({ length: 20_000 }, (_, i) => i * 0.01 + (i > 12_345 ? 30 : 0))
    const reader = stored([
      channelOf(
        timeS,
        timeS.map(() => 5),
      ),
    ])
    const thinned = reader.points('speed', [0, 300], 200)
    expect(thinned.thinned).toBe(true)
    expect([...thinned.values].some(Number.isNaN)).toBe(true)
    const near = reader.points('speed', [123, 124], 200)
    expect(near.thinned).toBe(false)
    expect([...near.values].some(Number.isNaN)).toBe(true)
    expect(reader.valuesAt(['speed'], 140)).toEqual([null])
    expect(reader.valuesAt(['speed'], 100)).toEqual([5])
    reader.close()
  })

  it('reaches the edges of the window with the samples just outside it', () => {
    const reader = stored([channelOf([0, 10, 20], [1, 2, 3])])
    expect([...reader.points('speed', [12, 15], 100).timeS]).toEqual([10, 20])
    reader.close()
  })

  it('gives no points for a channel without samples', () => {
    const reader = stored([channelOf([], [])])
    expect(reader.points('speed', [0, 1], 100).timeS.length).toBe(0)
    expect(reader.valuesAt(['speed'], 1)).toEqual([null])
    reader.close()
  })
})

describe('breaks', () => {
  it('are silences over five periods and a second', () => {
    expect(breaks(Float64Array.from([...Array(100).keys()].map((i) => i * 0.1 + (i >= 50 ? 2 : 0))))).toEqual(
      [49],
    )
  })
  it('are none where the channel is sent on change', () => {
    expect(breaks(Float64Array.from([0, 0.1, 9, 9.1, 30, 30.1, 50]))).toEqual([])
  })
})

describe('the pyramid', () => {
  it('holds the extremes of each block at each level (against the plain search)', () => {
    const values = Float64Array.from({ length: 1003 }, (_, i) => Math.sin(i * 1.7) * i)
    values[500] = Number.NaN
    const pyramid = buildPyramid(values)
    let at = 0
    let block = 8
    for (const size of levelSizes(values.length)) {
      for (let i = 0; i < size; i++, at += 2) {
        const part = [...values.slice(i * block, (i + 1) * block)].filter((value) => !Number.isNaN(value))
        expect(pyramid[at]).toBeCloseTo(Math.min(...part), 3)
        expect(pyramid[at + 1]).toBeCloseTo(Math.max(...part), 3)
      }
      block *= 8
    }
    expect(at).toBe(pyramid.length)
  })
})
