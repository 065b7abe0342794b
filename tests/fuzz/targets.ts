import { existsSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { gzipSync } from 'node:zlib'
import { parseSignalTable } from '../../src/importers/frames/signal-table.ts'
import { channelHeaderSchema } from '../../src/library/channel-header.ts'
import { storedDriveSchema } from '../../src/library/stored-drive.ts'
import { openReview } from '../../src/library/stored-review.ts'
import { readColumnMap } from '../../src/naming/column-map.ts'
import { openDrive } from '../../src/open/open-drive.ts'
import { readLogs } from '../../src/open/read-logs.ts'
import { parseVehicle } from '../../src/open/vehicle-file.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { mutateBytes, mutateText } from './mutate.ts'

/** What is tried: a reader alone, or a reader and the whole review behind it. */
export type Group = 'parsers' | 'reviews'

/** One kind of input: sound examples, how they are changed, and what reads them. */
export interface Target {
  readonly name: string
  readonly group: Group
  /** A log, not one of the small files beside it. */
  readonly isLog?: boolean
  readonly examples: readonly string[]
  mutate(example: string, random: () => number): Uint8Array
  read(bytes: Uint8Array, folder: string): Promise<unknown>
}

const asText = (example: string, random: () => number): Uint8Array => Buffer.from(mutateText(example, random))

const rows = (row: (i: number) => string): string => Array.from({ length: 30 }, (_, i) => row(i)).join('\n')
const WIDE = `time_s,Pack voltage [V],Pack current [A],Cell 1 [V],Cell 2 [V],Cell 3 [V],Speed [km/h],Key on\n${rows((i) => `${i / 10},90.${i % 10},${10 + i},3.7${i % 10},3.71,3.69,${i},1`)}`
const CLOCK = `Datum;Strom [A];Spannung [V]\n${rows((i) => `2026-11-20 08:00:${String(i).padStart(2, '0')},5;${i},5;390,${i}`)}`
const LONG = `time,name,value,unit\n${rows((i) => `${i / 5},${i % 2 ? 'pack_voltage' : 'pack_current'},${300 + i},${i % 2 ? 'V' : 'A'}`)}`
const FRAMES = `Time,ID,DLC,Data\n${rows((i) => `${i / 10},0x123,8,00 ${(16 + i).toString(16)} 22 33 44 55 66 77`)}`
export const SIGNALS = JSON.stringify({
  signals: [
    {
      identifier: '0x123',
      name: 'Pack voltage',
      start_bit: 0,
      length: 16,
      byte_order: 'little',
      factor: 0.1,
      unit: 'V',
    },
  ],
})
const VEHICLE = JSON.stringify({
  name: 'Teasel',
  pack: {
    cells: 3,
    cells_per_module: [2, 1],
    ocv: [
      [0, 3],
      [100, 4.2],
    ],
    sensors_of_module: [[1], [2]],
  },
  start_steps: { add: [{ name: 'x', channel: 'key_on', held_when: 1 }] },
})
const MAP = JSON.stringify({
  'Pack voltage [V]': 'pack_voltage',
  Other: { channel: null, unit: 'V' },
  Spare: null,
})

/** A capture with little-endian microsecond stamps, link type 227, some frames of 8 bytes, as hexadecimal. */
const PCAP = (() => {
  const bytes = Buffer.alloc(24 + 20 * 32)
  bytes.writeUInt32LE(0xa1b2c3d4, 0)
  bytes.writeUInt32LE(0x00040002, 4)
  bytes.writeUInt32LE(65535, 16)
  bytes.writeUInt32LE(227, 20)
  for (let i = 0; i < 20; i++) {
    const at = 24 + 32 * i
    bytes.writeUInt32LE(1_700_000_000 + i, at)
    bytes.writeUInt32LE(16, at + 8)
    bytes.writeUInt32LE(16, at + 12)
    bytes.writeUInt32BE(0x123, at + 16)
    bytes[at + 20] = 8
    bytes[at + 24] = i
  }
  return bytes.toString('hex')
})()

/** A pcapng capture of one section: an interface of link type 227 and enhanced packets, as hexadecimal. */
const PCAPNG = (() => {
  const block = (type: number, body: Buffer): Buffer => {
    const out = Buffer.alloc(body.length + 12)
    out.writeUInt32LE(type, 0)
    out.writeUInt32LE(out.length, 4)
    body.copy(out, 8)
    out.writeUInt32LE(out.length, out.length - 4)
    return out
  }
  const section = Buffer.alloc(16, 0xff)
  section.writeUInt32LE(0x1a2b3c4d, 0)
  section.writeUInt32LE(1, 4)
  const face = Buffer.alloc(8)
  face.writeUInt16LE(227, 0)
  const packets = Array.from({ length: 20 }, (_, i) => {
    const body = Buffer.alloc(20 + 16)
    body.writeUInt32LE(i * 100_000, 8)
    body.writeUInt32LE(16, 12)
    body.writeUInt32LE(16, 16)
    body.writeUInt32BE(0x123, 20)
    body[24] = 8
    body[28] = i
    return block(6, body)
  })
  return Buffer.concat([block(0x0a0d0d0a, section), block(1, face), ...packets]).toString('hex')
})()

export function signalsIn(folder: string): string {
  const path = join(folder, 'signals.json')
  if (!existsSync(path)) writeFileSync(path, SIGNALS)
  return path
}

const stored = (name: string, read: (json: unknown) => unknown, example: unknown): Target => ({
  name: `stored ${name}`,
  group: 'parsers',
  examples: [JSON.stringify(example)],
  mutate: asText,
  read: async (bytes) => {
    let json: unknown
    try {
      json = JSON.parse(Buffer.from(bytes).toString())
    } catch {
      return
    }
    try {
      read(json)
    } catch (error) {
      if ((error as Error).name !== 'ZodError' && (error as Error).name !== '$ZodError') throw error
    }
  },
})

/** Logs, tried twice: read alone, and reviewed. */
const LOGS = [
  { name: 'tables', examples: [WIDE, CLOCK, LONG], mutate: asText, signals: false },
  {
    name: 'gzip of tables',
    examples: [WIDE],
    mutate: (example: string, random: () => number) =>
      random() < 0.5
        ? mutateBytes(gzipSync(example), random)
        : new Uint8Array(gzipSync(mutateText(example, random))),
    signals: false,
  },
  { name: 'frames', examples: [FRAMES], mutate: asText, signals: true },
  {
    name: 'captures',
    examples: [PCAP, PCAPNG],
    mutate: (example: string, random: () => number) => mutateBytes(Buffer.from(example, 'hex'), random),
    signals: true,
  },
] as const

export const TARGETS: readonly Target[] = [
  ...(['parsers', 'reviews'] as const).flatMap((group) =>
    LOGS.map(({ name, examples, mutate, signals }) => ({
      name: group === 'reviews' ? `review of ${name}` : name,
      group,
      isLog: true,
      examples,
      mutate,
      read: async (bytes: Uint8Array, folder: string) => {
        const options = signals ? { signals: signalsIn(folder) } : {}
        const path = join(folder, 'log')
        writeFileSync(path, bytes)
        return group === 'parsers'
          ? readLogs([{ path }], options)
          : reviewDrive(await openDrive([path], options), {})
      },
    })),
  ),
  {
    name: 'review with vehicle files',
    group: 'reviews',
    examples: [VEHICLE],
    mutate: asText,
    read: async (bytes, folder) => {
      const vehicle = parseVehicle(bytes, 'car')
      const path = join(folder, 'log')
      writeFileSync(path, WIDE)
      return reviewDrive(await openDrive([path], { vehicle }), vehicle)
    },
  },
  {
    name: 'vehicle files',
    group: 'parsers',
    examples: [VEHICLE],
    mutate: asText,
    read: async (bytes) => parseVehicle(bytes, 'car'),
  },
  {
    name: 'signal tables',
    group: 'parsers',
    examples: [SIGNALS],
    mutate: asText,
    read: async (bytes) => parseSignalTable('s', bytes),
  },
  {
    name: 'maps',
    group: 'parsers',
    examples: [MAP],
    mutate: asText,
    read: async (bytes, folder) => {
      writeFileSync(join(folder, 'map.json'), bytes)
      return readColumnMap(join(folder, 'map.json'))
    },
  },
  stored('drive', (json) => storedDriveSchema.parse(json), {
    version: 1,
    summary: {},
    logs: [],
    signals: null,
  }),
  stored('review', openReview, { schema: 1, findings: [], questions: [], regen: null }),
  stored('channels', (json) => channelHeaderSchema.parse(json), {
    version: 1,
    bases: [{ samples: 3, gaps_after: [1], period_s: 1 }],
    channels: [],
  }),
]
