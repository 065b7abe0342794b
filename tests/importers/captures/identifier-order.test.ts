import { describe, expect, test } from 'vitest'
import { PcapngBytes, packetOf, pcapOf, type TestFrame } from '../../helpers/capture-bytes.ts'
import { byteSignals, frameLogFromBytes, hex, valuesOf } from '../../helpers/frame-log-from-bytes.ts'

/**
 * Identifiers of link type 227 are big-endian in either kind of file (LINKTYPE_CAN_SOCKETCAN page, checks F3); some boxes
 * copy the kernel's struct, which is little-endian on most machines. 0x185 little-endian reads as a 29-bit identifier.
 */
const IDENTIFIERS = [
  { identifier: 0x123 },
  { identifier: 0x185 },
  { identifier: 0x7f0 },
  { identifier: 0x18fef100, extended: true },
]
const FRAMES: readonly TestFrame[] = Array.from({ length: 200 }, (_, i) => ({
  ns: 1_700_000_000_000_000_000n + BigInt(i) * 1_000_000n,
  ...IDENTIFIERS[i % 4]!,
  data: [i, 255 - i],
}))
const SIGNALS = [0x123, 0x185, 0x7f0, '0x18FEF100'].flatMap((id) => byteSignals(id, 2))
const pcapng = (turned: boolean): Buffer =>
  FRAMES.reduce(
    (file, frame) => file.packet(0, frame.ns, packetOf(frame, turned)),
    new PcapngBytes().interface({ resolution: 9 }),
  ).bytes()

describe('identifiers in the other byte order', () => {
  test.each([
    ['pcap', pcapOf(FRAMES, { turned: true }), pcapOf(FRAMES)],
    ['pcap, big-endian', pcapOf(FRAMES, { turned: true, little: false }), pcapOf(FRAMES, { little: false })],
    ['pcapng', pcapng(true), pcapng(false)],
  ])('%s: turned round, and said', async (_, turned, standard) => {
    const healed = await frameLogFromBytes(turned, SIGNALS)
    const plain = await frameLogFromBytes(standard, SIGNALS)
    expect(valuesOf(healed)).toEqual(valuesOf(plain))
    expect(healed.rows).toBe(200)
    expect(healed.notes!.join(' ')).toContain('other byte order')
    expect(plain.notes).toEqual([])
  })

  test('the checked example F7 with its identifier turned', async () => {
    const log = await frameLogFromBytes(
      hex(
        'a1b23c4d0002000400000000000000000000ffff000000e36553f100075bcd150000000b0000000b00f1fe9803000000aabbcc',
      ),
      byteSignals('0x18FEF100', 3, true),
    )
    expect(valuesOf(log)).toEqual([[0xaa], [0xbb], [0xcc]])
  })

  test('a few damaged identifiers turn nothing, and error reports are what they are', async () => {
    const mixed = FRAMES.map((frame, i) =>
      i % 50 === 7 ? { ...frame, identifier: 0x1234, extended: false } : frame,
    )
    const reports = FRAMES.slice(0, 100).map((frame) => ({
      ...frame,
      identifier: 0x88,
      extended: false,
      error: true,
    }))
    const log = await frameLogFromBytes(pcapOf([...mixed, ...reports]), SIGNALS)
    expect(log.notes).toEqual([])
    expect(log.bus).toMatchObject({ error_frames: 100 })
  })
})
