import { describe, expect, test } from 'vitest'
import { NoSignalsError, signalTemplate } from '../../../src/importers/frames/frames-seen.ts'
import { pcapOf, type TestFrame } from '../../helpers/capture-bytes.ts'
import { byteSignals, frameLogFromBytes, hex, valuesOf } from '../../helpers/frame-log-from-bytes.ts'

const SECOND = 1_000_000_000n
const START = 1_700_000_000n * SECOND

const at = (ms: number, rest: Partial<TestFrame> = {}): TestFrame => ({
  ns: START + BigInt(ms) * 1_000_000n,
  identifier: 0x123,
  data: [1, 2],
  ...rest,
})

describe('pcap', () => {
  // Source: byte tables F6 and F7 of the project's checked values, worked out from pcap-savefile(5) and the
  // LINKTYPE_CAN_SOCKETCAN page.
  test('the little-endian microsecond example', async () => {
    const log = await frameLogFromBytes(
      hex(
        'd4c3b2a1020004000000000000000000ffff0000e300000000f1536590d00300100000001000000000000123080000000102030405060708',
      ),
      byteSignals('0x123', 8),
    )
    expect(log).toMatchObject({ layout: 'pcap', rows: 1, skipped: [], startedAt: '2023-11-14T22:13:20.250Z' })
    expect(valuesOf(log)).toEqual([[1], [2], [3], [4], [5], [6], [7], [8]])
    expect([...log.series[0]!.timeS]).toEqual([0])
  })

  test('the big-endian nanosecond example, identifier extended', async () => {
    const log = await frameLogFromBytes(
      hex(
        'a1b23c4d0002000400000000000000000000ffff000000e36553f100075bcd150000000b0000000b98fef10003000000aabbcc',
      ),
      byteSignals('0x18FEF100', 3, true),
    )
    expect(log).toMatchObject({ rows: 1, startedAt: '2023-11-14T22:13:20.123Z' })
    expect(valuesOf(log)).toEqual([[0xaa], [0xbb], [0xcc]])
  })

  test.each([
    [true, false],
    [true, true],
    [false, false],
    [false, true],
  ])('little %s, nanosecond %s: own time since the first stamp, exact to its unit', async (little, nano) => {
    const frames = [at(0), at(250), at(1250, { data: [3, 4] })]
    const log = await frameLogFromBytes(pcapOf(frames, { little, nano }), byteSignals(0x123, 2))
    expect([...log.series[0]!.timeS].map((time) => time.toFixed(9))).toEqual([
      '0.000000000',
      '0.250000000',
      '1.250000000',
    ])
    expect(valuesOf(log)).toEqual([
      [1, 1, 3],
      [2, 2, 4],
    ])
  })

  test('a capture without a date keeps its time as written', async () => {
    const log = await frameLogFromBytes(
      pcapOf([{ ns: 12_500_000_000n, identifier: 5, data: [9] }]),
      byteSignals(5, 1),
    )
    expect(log.startedAt).toBeNull()
    expect([...log.series[0]!.timeS]).toEqual([12.5])
  })

  // Source: frame kinds by the packet's original length, LINKTYPE_CAN_SOCKETCAN page (checks F4).
  test.each([
    [7, 0, 'too short'],
    [8, 0, 'frame'],
    [16, 0, 'frame'],
    [17, 0, 'too long'],
    [17, 4, 'frame'],
    [71, 0, 'too long'],
    [72, 0, 'frame'],
    [73, 4, 'too long'],
  ])('a packet of %i octets, FD flags %i: %s', async (length, flags, kind) => {
    const packet = Buffer.alloc(length)
    packet.writeUInt32BE(0x123, 0)
    if (length > 4) packet[4] = Math.max(0, length - 8)
    if (length > 5) packet[5] = flags
    const one = pcapOf([at(0)])
    const record = Buffer.alloc(16)
    record.writeUInt32LE(1_700_000_001, 0)
    record.writeUInt32LE(length, 8)
    record.writeUInt32LE(length, 12)
    const log = await frameLogFromBytes(Buffer.concat([one, record, packet]), byteSignals(0x123, 1))
    expect(log.rows).toBe(kind === 'frame' ? 2 : 1)
    expect(
      log.skipped.map((each) => each.what).filter((what) => what.startsWith(`packets ${kind}`)).length,
    ).toBe(kind === 'frame' ? 0 : 1)
  })

  test('XL frames are counted, not read', async () => {
    const bytes = pcapOf([at(0), at(1)])
    bytes[24 + 16 + 4] = 0x80
    const log = await frameLogFromBytes(bytes, byteSignals(0x123, 1))
    expect(log.rows).toBe(1)
    expect(log.skipped).toContainEqual({ what: 'XL frames', count: 1, first: 'byte 24' })
  })

  // Source: Linux uapi can.h and can/error.h (checks N6, N9): remote 0x40000000, error 0x20000000.
  test('remote and error frames are counted and shown, never decoded', async () => {
    const frames = [
      at(0),
      at(100, { remote: true, data: [7, 7, 7, 7, 7, 7, 7, 7] }),
      at(200, { error: true, identifier: 4, data: [0, 0x10, 0, 0, 0, 0, 0, 0] }),
      at(300, { error: true, identifier: 0x40, data: [0, 0, 0, 0, 0, 0, 0, 0] }),
    ]
    const log = await frameLogFromBytes(pcapOf(frames), byteSignals(0x123, 2))
    expect(log.bus).toMatchObject({ remote_frames: 1, error_frames: 2 })
    expect(valuesOf(log)).toEqual([[1], [2]])
    expect(log.events.map((event) => [event.at_s.toFixed(1), event.what])).toEqual([
      ['0.2', 'bus error: receiver error-passive'],
      ['0.3', 'bus error: bus-off'],
    ])
  })

  test('FD frames carry up to 64 bytes', async () => {
    const data = Array.from({ length: 64 }, (_, k) => k)
    const log = await frameLogFromBytes(pcapOf([at(0, { fd: 4, data }), at(5, { fd: 5, data })]), [
      { identifier: 0x123, name: 'last', start_bit: 504, length: 8, byte_order: 'little' },
      { identifier: 0x123, name: 'across words', start_bit: 35 * 8 + 7, length: 16, byte_order: 'big' },
    ])
    expect(valuesOf(log)).toEqual([
      [63, 63],
      [0x2324, 0x2324],
    ])
  })

  test('a capture cut in the middle of a record is read up to the cut, which is said', async () => {
    const whole = pcapOf([at(0), at(10), at(20)])
    for (const cut of [1, 5, 17, 25]) {
      const log = await frameLogFromBytes(whole.subarray(0, whole.length - cut), byteSignals(0x123, 1))
      expect(log.rows).toBe(2)
      expect(log.skipped[0]).toMatchObject({ what: 'a record cut off by the end of the capture', count: 1 })
    }
  })

  test('a length that cannot be ends the reading, which is said', async () => {
    const bytes = pcapOf([at(0), at(10), at(20)])
    bytes.writeUInt32LE(0xfffffff0, 24 + 26 + 26 + 8)
    const log = await frameLogFromBytes(bytes, byteSignals(0x123, 1))
    expect(log.rows).toBe(2)
    expect(log.skipped[0]!.first).toMatch(/^byte 84: a packet of 4294967280 bytes cannot be/)
  })

  test('gzip changes nothing but the layout', async () => {
    const log = await frameLogFromBytes(pcapOf([at(0), at(10)]), byteSignals(0x123, 2), { gzip: true })
    expect(log.layout).toBe('pcap, gzip')
    expect(log.rows).toBe(2)
  })

  test('another link type is an error that names it', async () => {
    await expect(frameLogFromBytes(pcapOf([at(0)], { linkType: 1 }), byteSignals(0x123, 1))).rejects.toThrow(
      'link type 1 at byte 20; 227 (CAN frames) was expected',
    )
  })

  test('the upper bits of the link type do not count', async () => {
    const log = await frameLogFromBytes(pcapOf([at(0)], { linkType: 0xf00000e3 }), byteSignals(0x123, 1))
    expect(log.rows).toBe(1)
  })

  test('without a signal table the error lists the identifiers with their rates', async () => {
    const frames = Array.from({ length: 101 }, (_, i) => at(i * 10, { extended: i % 2 === 1 }))
    await expect(frameLogFromBytes(pcapOf(frames))).rejects.toThrow(
      'raw CAN frames need a signal table (--signals FILE) to be read; identifiers seen: 0x123 50.0/s, 0x00000123 50.0/s.',
    )
  })

  test('… and carries them with a template to fill, which reads the capture as it is', async () => {
    const frames = Array.from({ length: 101 }, (_, i) => at(i * 10, { data: [i, 7, 255 - i] }))
    const error = await frameLogFromBytes(pcapOf(frames)).catch((thrown: unknown) => thrown)
    expect(error).toBeInstanceOf(NoSignalsError)
    const seen = (error as NoSignalsError).frames
    expect(seen).toEqual([
      { identifier: '0x123', extended: false, count: 101, rate_hz: 100, length: 3, changing_bytes: [0, 2] },
    ])
    const log = await frameLogFromBytes(pcapOf(frames), JSON.stringify(signalTemplate(seen)))
    expect(log.series.map(({ name, values }) => [name, values[5]])).toEqual([
      ['0x123 byte 0', 5],
      ['0x123 byte 2', 250],
    ])
  })

  test('frames that no signal explains are listed with rate and changing bytes', async () => {
    const frames = Array.from({ length: 101 }, (_, i) => at(i * 10, { identifier: 0x7ff, data: [5, i, 0] }))
    const log = await frameLogFromBytes(pcapOf([...frames, at(1000)]), byteSignals(0x123, 1))
    expect(log.bus!.unexplained).toEqual([
      { identifier: '0x7FF', count: 101, rate_hz: 100, changing_bytes: [1] },
    ])
    expect(log.skipped).toEqual([
      { what: 'frames that no signal explains: 0x7FF, 100/s, bytes 1 change', count: 101, first: '0.000 s' },
    ])
  })

  test('a table of another bus is an error that shows both lists', async () => {
    await expect(frameLogFromBytes(pcapOf([at(0)]), byteSignals(0x200, 1))).rejects.toThrow(
      'none of its identifiers (0x123) is in signals (0x200); a signal table of this bus was expected',
    )
  })

  test('frames of the table that never came are said', async () => {
    const log = await frameLogFromBytes(pcapOf([at(0)]), [...byteSignals(0x123, 1), ...byteSignals(0x400, 1)])
    expect(log.notes).toEqual(['Frames of the signal table that never came: 0x400.'])
  })
})
