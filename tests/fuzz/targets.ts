import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { parseSignalTable } from '../../src/importers/frames/signal-table.ts'
import { channelHeaderSchema } from '../../src/library/channel-header.ts'
import { storedDriveSchema } from '../../src/library/stored-drive.ts'
import { openReview } from '../../src/library/stored-review.ts'
import { readColumnMap } from '../../src/naming/column-map.ts'
import { openDrive } from '../../src/open/open-drive.ts'
import { parseVehicle } from '../../src/open/vehicle-file.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { mutateBytes, mutateText } from './mutate.ts'

/** One kind of input: sound examples, how they are changed, and what reads them. */
export interface Target {
  readonly name: string
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
const SIGNALS = JSON.stringify({
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

async function review(bytes: Uint8Array, folder: string, signals?: string): Promise<unknown> {
  const path = join(folder, 'log')
  writeFileSync(path, bytes)
  return reviewDrive(await openDrive([path], signals === undefined ? {} : { signals }), {})
}

function signalsIn(folder: string): string {
  const path = join(folder, 'signals.json')
  writeFileSync(path, SIGNALS)
  return path
}

const stored = (name: string, read: (json: unknown) => unknown, example: unknown): Target => ({
  name: `stored ${name}`,
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

export const TARGETS: readonly Target[] = [
  {
    name: 'tables',
    examples: [WIDE, CLOCK, LONG],
    mutate: asText,
    read: (bytes, folder) => review(bytes, folder),
  },
  {
    name: 'frames',
    examples: [FRAMES],
    mutate: asText,
    read: (bytes, folder) => review(bytes, folder, signalsIn(folder)),
  },
  {
    name: 'captures',
    examples: [PCAP],
    mutate: (example, random) => mutateBytes(Buffer.from(example, 'hex'), random),
    read: (bytes, folder) => review(bytes, folder, signalsIn(folder)),
  },
  {
    name: 'vehicle files',
    examples: [VEHICLE],
    mutate: asText,
    read: async (bytes) => parseVehicle(bytes, 'car'),
  },
  {
    name: 'signal tables',
    examples: [SIGNALS],
    mutate: asText,
    read: async (bytes) => parseSignalTable('s', bytes),
  },
  {
    name: 'maps',
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
