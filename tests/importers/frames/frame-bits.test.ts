import { describe, expect, test } from 'vitest'
import { frameBits, inferBitRate, worstStuffBits } from '../../../src/importers/frames/frame-bits.ts'
import { pcapOf, type TestFrame } from '../../helpers/capture-bytes.ts'
import { frameLogFromBytes } from '../../helpers/frame-log-from-bytes.ts'

describe('bits on the bus', () => {
  // Source: Tindell; Davis, Burns, Bril, Lukkien 2007: 8 bytes, 11-bit identifier: 64 + 47 bits, at worst
  // ⌊(34 + 64 − 1)/4⌋ stuff bits: 135 in all; with 29 bits 160. The same as 55 + 10 n and 80 + 10 n.
  test.each([
    [false, 8, 111, 24],
    [true, 8, 131, 29],
    [false, 0, 47, 8],
    [true, 0, 67, 13],
    [false, 1, 55, 10],
    [true, 1, 75, 15],
  ])('extended %s, %i bytes: %i bits and at most %i stuff bits', (extended, bytes, bits, stuff) => {
    expect(frameBits(extended, bytes)).toBe(bits)
    expect(worstStuffBits(extended, bytes)).toBe(stuff)
    expect(bits + stuff).toBe((extended ? 80 : 55) + 10 * bytes)
  })

  const bus = (extended: boolean): Buffer => {
    const frames: TestFrame[] = []
    for (let i = 0; i < 300; i++)
      for (let n = 0; n < 20; n++)
        frames.push({
          ns: 1_700_000_000_000_000_000n + BigInt(i * 10_000_000 + n * 300_000),
          identifier: 0x100 + n,
          extended,
          data: [0, 0, 0, 0, 0, 0, 0, 0],
        })
    return pcapOf(frames)
  }
  const table = (rest: object, extended = false): string =>
    JSON.stringify({
      ...rest,
      signals: [{ identifier: 0x100, extended, name: 'x', start_bit: 0, length: 8, byte_order: 'little' }],
    })

  // Arithmetic from the lengths above: 20 frames · 100 /s · 111 bits ÷ 500 kbit/s = 44.4 %, with 135 bits 54.0 %.
  test('20 frames at 100 Hz on 500 kbit/s load it by 44.4 %, at worst 54.0 %', async () => {
    const { bus: summary } = await frameLogFromBytes(bus(false), table({ bit_rate: 500_000 }))
    expect(summary!.bit_rate_from).toBe('signal table')
    expect(summary!.load_percent.slice(0, 3).map((each) => each.toFixed(1))).toEqual(['44.4', '44.4', '44.4'])
    expect(summary!.worst_load_percent).toBeCloseTo(54, 6)
  })

  test('without a bit rate the smallest usual one that fits is taken, and said', async () => {
    const { bus: summary } = await frameLogFromBytes(bus(true), table({}, true))
    expect(summary).toMatchObject({ bit_rate: 500_000, bit_rate_from: 'smallest that fits' })
    expect(inferBitRate([120_000])).toBe(125_000)
    expect(inferBitRate([126_000])).toBe(250_000)
    expect(inferBitRate([3e6])).toBe(1_000_000)
  })
})
