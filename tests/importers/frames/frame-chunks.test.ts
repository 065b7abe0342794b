import { describe, expect, test } from 'vitest'
import type { LogSource } from '../../../src/bytes/file-source.ts'
import { walkPcap } from '../../../src/importers/captures/pcap.ts'
import { walkPcapng } from '../../../src/importers/captures/pcapng.ts'
import { walkFrameCsv } from '../../../src/importers/frame-csv/frame-csv.ts'
import { frameColumns } from '../../../src/importers/frame-csv/frame-csv-columns.ts'
import type { FrameBatch, FrameSink, WalkReport } from '../../../src/importers/frames/frame-sink.ts'
import { PcapngBytes, packetOf, pcapOf, type TestFrame } from '../../helpers/capture-bytes.ts'

/** Where the pieces of a file are cut must not matter. Pieces share one buffer, as a file read into one does. */
function inPieces(bytes: Uint8Array, size: number): LogSource {
  return {
    name: 'pieces',
    packed: false,
    head: bytes.slice(0, 65536),
    async *chunks(into: () => Uint8Array = () => new Uint8Array(size)) {
      for (let at = 0; at < bytes.length; at += size) {
        const piece = bytes.subarray(at, at + size)
        const room = into()
        room.fill(0xee)
        room.set(piece)
        yield room.subarray(0, piece.length)
      }
    },
    sha256: async () => '',
    damage: () => null,
  }
}

class Collector implements FrameSink {
  readonly seen: string[] = []
  batch({ count, ownS, key, flags, at, length, view }: FrameBatch): void {
    for (let i = 0; i < count; i++) {
      const data = Buffer.from(view.buffer, view.byteOffset + at[i]!, length[i]!).toString('hex')
      this.seen.push(`${ownS[i]!.toFixed(6)} ${key[i]} ${flags[i]} ${data}`)
    }
  }
  remote(ownS: number, key: number): void {
    this.seen.push(`${ownS.toFixed(6)} ${key} remote`)
  }
  error(ownS: number, classes: number): void {
    this.seen.push(`${ownS.toFixed(6)} ${classes} error`)
  }
}

const FRAMES: TestFrame[] = Array.from({ length: 60 }, (_, i) => ({
  ns: 1_700_000_000_000_000_000n + BigInt(i) * 10_000_000n,
  identifier: i % 5 === 1 ? 0x18fef100 : 0x100 + i,
  extended: i % 5 === 1,
  remote: i % 17 === 4,
  error: i % 19 === 9,
  ...(i % 7 === 3 ? { fd: 5 } : {}),
  data: Array.from({ length: i % 7 === 3 ? 64 : i % 9 }, (_, k) => (i * 7 + k) & 255),
}))

const PCAPNG = FRAMES.reduce(
  (file, frame, i) => {
    if (i % 13 === 0) file.block(0xbad, Buffer.alloc(40 + i * 9, i))
    return file.packet(0, frame.ns, packetOf(frame))
  },
  new PcapngBytes().interface({ resolution: 9 }),
).bytes()

const CSV = `Time;ID;Length;Data\n${FRAMES.map((frame, i) => `${i / 100};${frame.identifier.toString(16)};${frame.data.length};${Buffer.from(frame.data as number[]).toString('hex')}`).join('\r\n')}`
const COLUMNS = frameColumns(CSV)!

const WALKS: Readonly<Record<string, [Buffer, (source: LogSource, sink: FrameSink) => Promise<WalkReport>]>> =
  {
    pcap: [pcapOf(FRAMES), walkPcap],
    'pcap, big-endian': [pcapOf(FRAMES, { little: false }), walkPcap],
    pcapng: [PCAPNG, walkPcapng],
    'frame CSV': [
      Buffer.from(CSV),
      (source, sink) => walkFrameCsv(source, sink, COLUMNS, { encoding: 'utf-8', markBytes: 0 }, null),
    ],
  }

describe('a log in pieces', () => {
  test.each(Object.entries(WALKS))(
    '%s: the same frames wherever the pieces are cut',
    async (name, [bytes, walk]) => {
      const whole = new Collector()
      const report = await walk(inPieces(bytes, bytes.length), whole)
      expect(whole.seen).toHaveLength(60)
      expect(report.frames).toBe(60)
      for (const size of [1, 2, 3, 7, 16, 31, 64, 97, 128, 1000]) {
        const sink = new Collector()
        const again = await walk(inPieces(bytes, size), sink)
        expect(sink.seen, `${name}, pieces of ${size}`).toEqual(whole.seen)
        expect(again.skipped).toEqual(report.skipped)
      }
    },
  )
})
