import { describe, expect, test } from 'vitest'
import { PcapngBytes, packetOf, type TestFrame } from '../../helpers/capture-bytes.ts'
import { byteSignals, frameLogFromBytes, hex, valuesOf } from '../../helpers/frame-log-from-bytes.ts'

const SECTION = '0a0d0d0a1c0000004d3c2b1a01000000ffffffffffffffff1c000000'
const frame = (data: readonly number[], rest: Partial<TestFrame> = {}): Buffer =>
  packetOf({ ns: 0n, identifier: 0x123, data, ...rest })

describe('pcapng', () => {
  // Source: byte tables F10 and F11 of the project's checked values, worked out from draft-ietf-opsawg-pcapng.
  test('the nanosecond example, whose stamp is beyond 2^53', async () => {
    const log = await frameLogFromBytes(
      hex(
        `${SECTION} 0100000020000000e30000000000000009000100090000000000000020000000
         060000002c00000000000000fe9c971715cd853d0b0000000b00000098fef10003000000aabbcc002c000000`,
      ),
      byteSignals('0x18FEF100', 3, true),
    )
    expect(log).toMatchObject({
      layout: 'pcapng',
      rows: 1,
      skipped: [],
      startedAt: '2023-11-14T22:13:20.123Z',
    })
    expect(valuesOf(log)).toEqual([[0xaa], [0xbb], [0xcc]])
  })

  test('a simple packet block', async () => {
    const log = await frameLogFromBytes(
      hex(
        `${SECTION} 0100000014000000e30000000000000014000000
         0300000020000000100000000000012308000000010203040506070820000000`,
      ),
      byteSignals(0x123, 8),
    )
    expect(valuesOf(log)).toEqual([[1], [2], [3], [4], [5], [6], [7], [8]])
    expect(log.skipped[0]!.what).toMatch(/^packets without a time/)
  })

  // Source: if_tsresol 0x8A is 2^-10 s: 1536 ticks are 1.5 s (checks F9).
  test.each([true, false])('resolution in powers of two, little-endian %s', async (little) => {
    const log = await frameLogFromBytes(
      new PcapngBytes(little)
        .interface({ resolution: 0x8a })
        .packet(0, 0n, frame([1]))
        .packet(0, 1536n, frame([2]))
        .bytes(),
      byteSignals(0x123, 1),
    )
    expect([...log.series[0]!.timeS]).toEqual([0, 1.5])
  })

  test('nanoseconds since 1970 keep their nanoseconds', async () => {
    const first = 1_700_000_000_123_456_789n
    const log = await frameLogFromBytes(
      new PcapngBytes()
        .interface({ resolution: 9 })
        .packet(0, first, frame([1]))
        .packet(0, first + 1n, frame([2]))
        .packet(0, first + 3_600_000_000_007n, frame([3]))
        .bytes(),
      byteSignals(0x123, 1),
    )
    expect([...log.series[0]!.timeS]).toEqual([0, 1e-9, 3600.000000007])
  })

  test('several interfaces, each with its resolution and offset; one that carries no CAN is passed over', async () => {
    const log = await frameLogFromBytes(
      new PcapngBytes()
        .interface({ resolution: 6 })
        .interface({ linkType: 1 })
        .interface({ resolution: 3, offsetS: 1_700_000_000n })
        .packet(0, 1_700_000_000_000_000n, frame([1]))
        .packet(2, 500n, frame([2], { identifier: 0x124 }))
        .packet(1, 0n, Buffer.alloc(60))
        .packet(0, 1_700_000_001_000_000n, frame([3]))
        .packet(7, 0n, frame([4]))
        .bytes(),
      [...byteSignals(0x123, 1), ...byteSignals(0x124, 1)],
    )
    expect(log.series.map((series) => [...series.timeS])).toEqual([[0, 1], [0.5]])
    expect(log.skipped.map((each) => each.what)).toEqual([
      'packets of link type 1, which carries no CAN frames',
      'packets of an interface that the capture does not describe',
    ])
  })

  test('a second section may count in the other byte order', async () => {
    const one = (little: boolean, value: number): Buffer =>
      new PcapngBytes(little)
        .interface()
        .packet(0, 1_700_000_000_000_000n + BigInt(value), frame([value]))
        .bytes()
    const log = await frameLogFromBytes(Buffer.concat([one(true, 1), one(false, 2)]), byteSignals(0x123, 1))
    expect(valuesOf(log)).toEqual([[1, 2]])
    expect(log.series[0]!.timeS[1]).toBeCloseTo(1e-6, 12)
  })

  test('unknown blocks are stepped over, however long', async () => {
    const log = await frameLogFromBytes(
      new PcapngBytes()
        .interface()
        .block(0xbad, Buffer.alloc(3_000_000, 7))
        .packet(0, 5n, frame([1]))
        .block(4, Buffer.alloc(8))
        .packet(0, 6n, frame([2]))
        .bytes(),
      byteSignals(0x123, 1),
    )
    expect(valuesOf(log)).toEqual([[1, 2]])
    expect(log.skipped).toEqual([])
  })

  test('a cut and a block that cannot be end the reading, which is said', async () => {
    const whole = new PcapngBytes()
      .interface()
      .packet(0, 5n, frame([1]))
      .packet(0, 6n, frame([2]))
      .bytes()
    const cut = await frameLogFromBytes(whole.subarray(0, whole.length - 7), byteSignals(0x123, 1))
    expect(cut.rows).toBe(1)
    expect(cut.skipped[0]!.what).toBe('a block cut off by the end of the capture')
    const bent = Buffer.from(whole)
    bent.writeUInt32LE(0x7fffffff, whole.length - 44 + 4)
    const odd = await frameLogFromBytes(bent, byteSignals(0x123, 1))
    expect(odd.rows).toBe(1)
    expect(odd.skipped[0]!.first).toMatch(/a block of 2147483647 bytes cannot be/)
  })

  test('no interface with CAN frames is an error that names what is there', async () => {
    const bytes = new PcapngBytes().interface({ linkType: 1 }).packet(0, 0n, Buffer.alloc(60)).bytes()
    await expect(frameLogFromBytes(bytes, byteSignals(0x123, 1))).rejects.toThrow(
      'link type 1; 227 (CAN frames) was expected',
    )
  })
})
