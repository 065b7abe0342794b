import { describe, expect, test } from 'vitest'
import { writePcap, writePcapng } from './captures.ts'
import { type Frame, put } from './frames.ts'
import type { Signal } from './signals.ts'
import { gzip } from './text-bytes.ts'

const hex = (bytes: Uint8Array): string => Buffer.from(bytes).toString('hex')
const frame = (ownS: number, identifier: number, extended: boolean, data: number[]): Frame => ({
  ownS,
  identifier,
  extended,
  data: Uint8Array.from(data),
})

describe('captures, byte for byte as laid down in draft-ietf-opsawg-pcap(ng) and the link type page', () => {
  test('pcap, little-endian, microseconds: 0x123 with 01 … 08 at 1700000000.25', () => {
    const written = writePcap([frame(0.25, 0x123, false, [1, 2, 3, 4, 5, 6, 7, 8])], {
      nanoseconds: false,
      bigEndian: false,
      startsAt: '2023-11-14T22:13:20Z',
    })
    expect(hex(written)).toBe(
      'd4c3b2a1020004000000000000000000ffff0000e3000000' +
        '00f1536590d003001000000010000000' +
        '00000123080000000102030405060708',
    )
  })

  test('pcap, big-endian, nanoseconds: extended 0x18FEF100 with AA BB CC', () => {
    const written = writePcap([frame(0.123456, 0x18fef100, true, [0xaa, 0xbb, 0xcc])], {
      nanoseconds: true,
      bigEndian: true,
      startsAt: '2023-11-14T22:13:20Z',
    })
    expect(hex(written)).toBe(
      'a1b23c4d00020004000000000000000000 00ffff000000e3'.replaceAll(' ', '') +
        `6553f100${(123456000).toString(16).padStart(8, '0')}0000000b0000000b` +
        '98fef10003000000aabbcc',
    )
  })

  test('pcapng, little-endian, nanoseconds: section, interface with if_tsresol 9, enhanced packet', () => {
    const written = writePcapng([frame(0.123456, 0x18fef100, true, [0xaa, 0xbb, 0xcc])], {
      nanoseconds: true,
      bigEndian: false,
      startsAt: '2023-11-14T22:13:20Z',
    })
    const ticks = 1700000000123456000n
    const low = Buffer.alloc(8)
    low.writeUInt32LE(Number(ticks >> 32n), 0)
    low.writeUInt32LE(Number(ticks & 0xffffffffn), 4)
    expect(hex(written)).toBe(
      '0a0d0d0a1c0000004d3c2b1a01000000ffffffffffffffff1c000000' +
        '0100000020000000e30000000000000009000100090000000000000020000000' +
        `060000002c00000000000000${low.toString('hex')}0b0000000b00000098fef10003000000aabbcc002c000000`,
    )
  })
})

describe('signals, the bit numbers of AUTOSAR’s system description', () => {
  const signal = (
    start_bit: number,
    length: number,
    byte_order: 'little' | 'big',
    signed = false,
  ): Signal => ({
    identifier: '0x1',
    extended: false,
    node: '',
    name: '',
    start_bit,
    length,
    byte_order,
    signed,
    factor: 1,
    offset: 0,
    unit: '',
  })
  test.each([
    ['little', 8, 16, 0x5634, '0034560000000000'],
    ['little', 12, 12, 0x563, '0030560000000000'],
    ['little', 56, 8, -16, '00000000000000f0'],
    ['big', 15, 16, 0x3456, '0034560000000000'],
    ['big', 11, 12, 0x456, '0004560000000000'],
    ['big', 4, 5, 18, '1200000000000000'],
  ] as const)('%s, start %i, length %i, value %i', (order, start, length, value, bytes) => {
    const data = new Uint8Array(8)
    put(data, signal(start, length, order, value < 0), value)
    expect(hex(data)).toBe(bytes)
  })
})

test('gzip bytes carry no date and no system, so that they are the same everywhere', () => {
  const packed = gzip(Buffer.from('a row'))
  expect([...packed.subarray(0, 10)]).toEqual([0x1f, 0x8b, 8, 0, 0, 0, 0, 0, 2, 255])
})
