import { rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { openLogSource } from '../../src/bytes/file-source.ts'
import { walkPcap } from '../../src/importers/captures/pcap.ts'
import { FrameCensus, FrameFill } from '../../src/importers/frames/frame-census.ts'
import type { FrameGroup } from '../../src/importers/frames/frame-groups.ts'
import type { Signal } from '../../src/importers/frames/signal.ts'
import { parseSignalTable } from '../../src/importers/frames/signal-table.ts'

/**
 * Frames a second: this importer beside a decoder that takes bits from whole numbers of any size and one that makes a
 * closure a signal, on the same capture: 30 identifiers, 4 signals each, half of them big-endian.
 */
export interface FrameBench {
  readonly frames: number
  readonly rows: readonly {
    readonly what: string
    readonly ms: readonly number[]
    readonly framesPerSecond: number
  }[]
}

const IDENTIFIERS = 30
export const ROWS = Array.from({ length: IDENTIFIERS }, (_, n) =>
  [
    { start_bit: 0, length: 16, byte_order: 'little', signed: true },
    { start_bit: 16, length: 12, byte_order: 'little', signed: false },
    { start_bit: 39, length: 16, byte_order: 'big', signed: true },
    { start_bit: 55, length: 10, byte_order: 'big', signed: false },
  ].map((place, s) => ({
    identifier: 0x100 + n,
    name: `signal ${n}.${s}`,
    factor: 0.1,
    offset: -40,
    ...place,
  })),
).flat()

export function capture(frames: number): Buffer {
  const bytes = Buffer.alloc(24 + 32 * frames)
  bytes.writeUInt32LE(0xa1b2c3d4, 0)
  bytes.writeUInt16LE(2, 4)
  bytes.writeUInt16LE(4, 6)
  bytes.writeUInt32LE(65535, 16)
  bytes.writeUInt32LE(227, 20)
  let seed = 7
  for (let i = 0, at = 24; i < frames; i++, at += 32) {
    seed = (Math.imul(seed, 1664525) + 1013904223) >>> 0
    bytes.writeUInt32LE(1_700_000_000 + Math.floor(i / 4000), at)
    bytes.writeUInt32LE((i % 4000) * 250, at + 4)
    bytes.writeUInt32LE(16, at + 8)
    bytes.writeUInt32LE(16, at + 12)
    bytes.writeUInt32BE(0x100 + ((seed >>> 16) % IDENTIFIERS), at + 16)
    bytes[at + 20] = 8
    bytes.writeUInt32LE(seed, at + 24)
    bytes.writeUInt32LE(Math.imul(seed, 0x9e3779b1) >>> 0, at + 28)
  }
  return bytes
}

export const table = (): readonly Signal[] =>
  parseSignalTable('bench', Buffer.from(JSON.stringify(ROWS))).signals

/** The importer's two walks over a file. @returns a sum over all values, to hold the decoders against each other */
async function ours(path: string): Promise<number> {
  const source = await openLogSource(path)
  const census = new FrameCensus(table())
  await walkPcap(source, census)
  const groups = census.identifiers.flatMap(({ route }) => route?.groups ?? [])
  for (const group of groups) group.allocate()
  await walkPcap(source, new FrameFill(census))
  for (const group of groups) group.flush()
  return checksum(groups)
}

function checksum(groups: readonly FrameGroup[]): number {
  let sum = 0
  for (const { values } of groups)
    for (const column of values) sum += column[0]! + column[column.length >> 1]! + column[column.length - 1]!
  return Math.round(sum * 1000) / 1000
}

type Reader = (bytes: Buffer, at: number) => number

/** One closure a signal, on two 32-bit halves of the payload. */
function closure(signal: Signal): Reader {
  const { startBit, length, byteOrder, signed, factor, offset } = signal
  const little = byteOrder === 'little'
  const lowest = little ? startBit : 63 - ((startBit >> 3) * 8 + 7 - (startBit & 7) + length - 1)
  const shift = lowest & 31
  const drop = 32 - length
  return (bytes, at) => {
    const low = little ? bytes.readInt32LE(at) : bytes.readInt32BE(at + 4)
    const high = little ? bytes.readInt32LE(at + 4) : bytes.readInt32BE(at)
    const word = lowest >= 32 ? high >>> shift : shift === 0 ? low : (low >>> shift) | (high << (32 - shift))
    const raw = word << drop
    return (signed ? raw >> drop : raw >>> drop) * factor + offset
  }
}

/** Bits from a whole number of any size. */
function wholeNumber(signal: Signal): Reader {
  const { startBit, length, byteOrder, signed, factor, offset } = signal
  const lowest =
    byteOrder === 'little' ? startBit : 63 - ((startBit >> 3) * 8 + 7 - (startBit & 7) + length - 1)
  const mask = (1n << BigInt(length)) - 1n
  return (bytes, at) => {
    const all = byteOrder === 'little' ? bytes.readBigUInt64LE(at) : bytes.readBigUInt64BE(at)
    const raw = (all >> BigInt(lowest)) & mask
    return Number(signed ? BigInt.asIntN(length, raw) : raw) * factor + offset
  }
}

/** The same capture by one reader a signal, all bytes in memory already. */
function plain(bytes: Buffer, make: (signal: Signal) => Reader): number {
  const byKey = new Map<number, Signal[]>()
  for (const signal of table()) byKey.set(signal.key, [...(byKey.get(signal.key) ?? []), signal])
  const counts = new Map<number, number>()
  for (let at = 24; at < bytes.length; at += 32) {
    const key = bytes.readUInt32BE(at + 16)
    counts.set(key, (counts.get(key) ?? 0) + 1)
  }
  const outs = new Map(
    [...byKey].map(([key, signals]) => {
      const n = counts.get(key) ?? 0
      return [
        key,
        {
          n: 0,
          timeS: new Float64Array(n),
          readers: signals.map(make),
          values: signals.map(() => new Float64Array(n)),
        },
      ]
    }),
  )
  for (let at = 24; at < bytes.length; at += 32) {
    const out = outs.get(bytes.readUInt32BE(at + 16))!
    out.timeS[out.n] = bytes.readUInt32LE(at) + bytes.readUInt32LE(at + 4) * 1e-6
    for (let s = 0; s < out.readers.length; s++) out.values[s]![out.n] = out.readers[s]!(bytes, at + 24)
    out.n++
  }
  let sum = 0
  for (const { values } of outs.values())
    for (const column of values) sum += column[0]! + column[column.length >> 1]! + column[column.length - 1]!
  return Math.round(sum * 1000) / 1000
}

/** Runs all three; each `runs` times, the first (cold) run of ours apart. @throws where they disagree */
export async function benchFrames(frames = 5_000_000, runs = 5): Promise<FrameBench> {
  const path = join(tmpdir(), `frames-${process.pid}.pcap`)
  const bytes = capture(frames)
  writeFileSync(path, bytes)
  const rows: FrameBench['rows'][number][] = []
  const sums = new Set<number>()
  const time = async (what: string, run: () => Promise<number> | number, times: number): Promise<void> => {
    const ms: number[] = []
    for (let i = 0; i < times; i++) {
      const start = performance.now()
      sums.add(await run())
      ms.push(performance.now() - start)
    }
    const middle = [...ms].sort((a, b) => a - b)[times >> 1]!
    rows.push({ what, ms, framesPerSecond: frames / (middle / 1000) })
  }
  try {
    await time('this importer, first run', () => ours(path), 1)
    await time('this importer, warm', () => ours(path), runs)
    await time('a closure a signal, bytes in memory', () => plain(bytes, closure), 1)
    await time('whole numbers of any size, bytes in memory', () => plain(bytes, wholeNumber), 1)
  } finally {
    rmSync(path)
  }
  if (sums.size !== 1) throw new Error(`the decoders disagree: ${[...sums].join(', ')}`)
  return { frames, rows }
}

/** The table as lines of text, with how many times faster than each other way the warm importer is. */
export function frameBenchLines({ frames, rows }: FrameBench): string[] {
  const warm = rows.find((row) => row.what.endsWith('warm'))!.framesPerSecond
  return [
    `CAN frames: ${frames.toLocaleString('en')} frames in pcap, 30 identifiers, 120 signals`,
    ...rows.map(
      (row) =>
        `  ${row.what.padEnd(50)} ${(row.framesPerSecond / 1e6).toFixed(1).padStart(6)} M frames/s  ${(warm / row.framesPerSecond).toFixed(1).padStart(5)}×`,
    ),
  ]
}

if (process.argv[1] === import.meta.filename) console.log(frameBenchLines(await benchFrames()).join('\n'))
