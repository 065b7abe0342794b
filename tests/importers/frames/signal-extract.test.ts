import { describe, expect, test } from 'vitest'
import { FrameGroup } from '../../../src/importers/frames/frame-groups.ts'
import type { ByteOrder, Signal } from '../../../src/importers/frames/signal.ts'
import { readField } from '../../../src/importers/frames/signal-extract.ts'
import { lastByte } from '../../../src/importers/frames/signal-table.ts'

const signal = (
  startBit: number,
  length: number,
  byteOrder: ByteOrder,
  rest: Partial<Signal> = {},
): Signal => ({
  row: 1,
  key: 0x100,
  node: null,
  name: 'x',
  channel: null,
  startBit,
  length,
  byteOrder,
  signed: false,
  factor: 1,
  offset: 0,
  unit: null,
  selector: null,
  invalid: [],
  periodS: null,
  ...rest,
})

function decode(each: Signal, payloads: readonly Uint8Array[]): Float64Array {
  const group = new FrameGroup([each])
  group.frames = payloads.length
  group.allocate()
  payloads.forEach((payload, i) => {
    group.take(i, new DataView(payload.buffer), 0, payload.length)
  })
  group.flush()
  return group.values[0]!
}

/** The slow way: bit by bit into a whole number of any size, by the contract's numbering alone. */
function oracle(each: Signal, payload: Uint8Array): bigint {
  const bitOf = (number: number): bigint => BigInt((payload[number >> 3]! >> (number & 7)) & 1)
  let raw = 0n
  if (each.byteOrder === 'little')
    for (let i = each.length - 1; i >= 0; i--) raw = raw * 2n + bitOf(each.startBit + i)
  else {
    let bit = each.startBit
    for (let i = 0; i < each.length; i++) {
      raw = raw * 2n + bitOf(bit)
      bit = bit % 8 === 0 ? bit + 15 : bit - 1
    }
  }
  return each.signed ? BigInt.asIntN(each.length, raw) : raw
}

const PAYLOAD = Uint8Array.of(0x12, 0x34, 0x56, 0x78, 0x9a, 0xbc, 0xde, 0xf0)

describe('bits of a payload', () => {
  // Source: AUTOSAR TPS System Template, packingByteOrder and startPosition; values worked out by hand (checks S1).
  test.each([
    [8, 16, 'little', false, 22068],
    [12, 12, 'little', false, 1379],
    [0, 32, 'little', false, 0x78563412],
    [56, 8, 'little', true, -16],
    [15, 16, 'big', false, 13398],
    [11, 12, 'big', false, 1110],
    [7, 32, 'big', false, 0x12345678],
    [4, 5, 'big', false, 18],
  ] as const)('start %i, length %i, %s endian, signed %s: %i', (start, length, order, signed, want) => {
    expect(decode(signal(start, length, order, { signed }), [PAYLOAD])[0]).toBe(want)
  })

  // Sources: SAE J1979 / ISO 15031-5, (256 A + B) / 4 rpm: 1A F8 is 1726 rpm; A − 40 °C: 7B is 83 °C (checks S5).
  test('engine speed and coolant temperature of the on-board diagnosis example', () => {
    const answer = Uint8Array.of(0x04, 0x41, 0x0c, 0x1a, 0xf8, 0, 0, 0)
    expect(decode(signal(31, 16, 'big', { factor: 0.25 }), [answer])[0]).toBe(1726)
    const warm = Uint8Array.of(0x03, 0x41, 0x05, 0x7b, 0, 0, 0, 0)
    expect(decode(signal(24, 8, 'little', { offset: -40 }), [warm])[0]).toBe(83)
  })

  test('100,000 random signals agree with whole numbers of any size', () => {
    let seed = 20260314
    const random = (below: number): number => {
      seed = (Math.imul(seed, 1664525) + 1013904223) >>> 0
      return Math.floor((seed / 4294967296) * below)
    }
    let tried = 0
    while (tried < 100_000) {
      const bytes = random(4) === 0 ? 1 + random(64) : 8
      const each = signal(random(bytes * 8), 1 + random(64), random(2) ? 'big' : 'little', {
        signed: random(2) === 1,
        factor: [1, 0.1, -0.25, 1000][random(4)]!,
        offset: [0, -40, 0.5][random(3)]!,
      })
      if (lastByte(each) >= bytes) continue
      const payload = Uint8Array.from({ length: bytes }, () => random(256))
      const want = Number(oracle(each, payload)) * each.factor + each.offset
      const got = decode(each, [payload])[0]
      if (got !== want)
        expect.fail(`${JSON.stringify(each)} of ${Buffer.from(payload).toString('hex')}: ${got}, not ${want}`)
      if (each.length <= 32) {
        const unsigned = readField(each, new DataView(payload.buffer), 0, bytes)
        if (BigInt(unsigned) !== BigInt.asUintN(each.length, oracle(each, payload)))
          expect.fail(`selector ${JSON.stringify(each)}: ${unsigned}`)
      }
      tried++
    }
    expect(tried).toBe(100_000)
  })

  test('a block border changes nothing', () => {
    const payloads = Array.from({ length: 2500 }, (_, i) => Uint8Array.of(i & 255, i >> 8, 0, 0, 0, 0, 0, 0))
    expect([...decode(signal(0, 16, 'little'), payloads)]).toEqual(payloads.map((_, i) => i))
  })

  test('an invalid raw value is no value, signed ones as written or as their bits', () => {
    const two = signal(0, 8, 'little', { signed: true, invalid: [-128], factor: 2 })
    expect([...decode(two, [Uint8Array.of(0x80), Uint8Array.of(0x81)])]).toEqual([Number.NaN, -254])
  })

  test('a frame too short for a signal gives no value of it', () => {
    const values = decode(signal(8, 8, 'little'), [Uint8Array.of(1), Uint8Array.of(1, 7), Uint8Array.of(1)])
    expect([...values]).toEqual([Number.NaN, 7, Number.NaN])
  })
})
