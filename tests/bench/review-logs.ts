import { closeSync, existsSync, mkdirSync, openSync, writeFileSync, writeSync } from 'node:fs'
import { join } from 'node:path'
import { oneBox } from '../simulator/boxes.ts'
import { type Simulated, simulate } from '../simulator/simulate.ts'
import { writePcap } from '../simulator/writers/captures.ts'
import { framesOf } from '../simulator/writers/frames.ts'
import { messagesOf, signalTable } from '../simulator/writers/signals.ts'
import { writeWideCsv } from '../simulator/writers/wide-csv.ts'

/** A log to review, how long it is, and the signal table that goes with it. */
export interface BenchLog {
  readonly name: string
  readonly path: string
  readonly hours: number
  readonly signals?: string
}

const HOUR_S = 3600
/** A capture's header, and that of each of its packets, bytes. Source: libpcap file format. */
const PCAP_HEAD = 24
const PACKET_HEAD = 16

/**
 * Logs of the simulator, written once: 12 minutes, and 1, 3 and 10 hours of a table (rows at 100 Hz, cells new at 10 Hz,
 * temperatures at 1 Hz, 84 cells), the first three as a capture of frames too. Longer ones are one true hour
 * driven again and again: the moments go on, the charge starts anew each hour.
 */
export function reviewLogs(folder: string, most: number): BenchLog[] {
  mkdirSync(folder, { recursive: true })
  const made = { short: lazily(() => drive(720)), hour: lazily(() => drive(HOUR_S)) }
  const logs: BenchLog[] = []
  for (const hours of [0.2, 1, 3, 10].filter((each) => each <= most)) {
    const of = hours < 1 ? made.short : made.hour
    const path = join(folder, `table-${hours}.csv`)
    if (!existsSync(path)) writeTable(path, of(), Math.max(1, hours))
    logs.push({ name: `table, ${named(hours)}`, path, hours })
  }
  for (const hours of [0.2, 1, 3].filter((each) => each <= most)) {
    const of = hours < 1 ? made.short : made.hour
    const path = join(folder, `frames-${hours}.pcap`)
    const signals = join(folder, 'signals.json')
    if (!existsSync(path) || !existsSync(signals)) writeFrames(path, signals, of(), Math.max(1, hours))
    logs.push({ name: `frames, ${named(hours)}`, path, hours, signals })
  }
  return logs
}

const named = (hours: number): string => (hours < 1 ? `${hours * 60} min` : `${hours} h`)

function lazily<T>(make: () => T): () => T {
  let made: T | null = null
  return () => {
    made ??= make()
    return made
  }
}

const drive = (durationS: number): Simulated =>
  simulate({
    seed: 1511,
    car: {
      name: 'Teasel',
      pack: { cellsPerModule: [12, 12, 12, 12, 12, 12, 12], startSoc: 0.9, capacityAh: 120 },
    },
    route: { kind: 'mixed', durationS: durationS - 40 },
    boxes: (car) => oneBox(car, { vehicleHz: 100, currentHz: 100, cellHz: 10 }),
  })

function writeTable(path: string, made: Simulated, hours: number): void {
  const text = Buffer.from(
    writeWideCsv(made.samples, made.boxes[0]!, {
      delimiter: ',',
      decimal: '.',
      time: 'seconds',
      timeDecimals: 3,
      names: 'words',
      unitsIn: 'brackets',
    }),
  )
  const head = text.indexOf(10) + 1
  const file = openSync(path, 'w')
  writeSync(file, text.subarray(0, head))
  for (let hour = 0; hour < hours; hour++) writeSync(file, later(text.subarray(head), hour * HOUR_S))
  closeSync(file)
}

/** The rows with their first field, the seconds, moved on; rows of an hour beyond its end are left out. */
function later(rows: Buffer, byS: number): Buffer {
  const moved: string[] = []
  for (const line of rows.toString('latin1').split('\n')) {
    const comma = line.indexOf(',')
    const atS = Number(line.slice(0, comma))
    if (comma > 0 && atS < HOUR_S) moved.push(`${(atS + byS).toFixed(3)}${line.slice(comma)}`)
  }
  return Buffer.from(`${moved.join('\n')}\n`, 'latin1')
}

function writeFrames(path: string, signals: string, made: Simulated, hours: number): void {
  const messages = messagesOf(made.samples, BUS)
  writeFileSync(signals, signalTable(messages, 'json'))
  const one = Buffer.from(writePcap(framesOf(messages, made.boxes[0]!), CAPTURE))
  const file = openSync(path, 'w')
  writeSync(file, one.subarray(0, PCAP_HEAD))
  for (let hour = 0; hour < hours; hour++) {
    const packets = Buffer.from(one.subarray(PCAP_HEAD))
    for (let at = 0; at < packets.length; at += PACKET_HEAD + packets.readUInt32LE(at + 8))
      packets.writeUInt32LE(packets.readUInt32LE(at) + hour * HOUR_S, at)
    writeSync(file, packets)
  }
  closeSync(file)
}

const BUS = {
  names: 'words',
  withChannels: true,
  extended: false,
  bigEndianNodes: [],
  multiplexCells: true,
} as const

const CAPTURE = { nanoseconds: false, bigEndian: false, startsAt: '2031-03-07T16:42:05Z' } as const
