import type { Measured } from '../simulate.ts'
import { writePcap, writePcapng } from './captures.ts'
import type { Written } from './columns.ts'
import { writeFrameCsv } from './frame-csv.ts'
import { framesOf } from './frames.ts'
import { type LongDialect, writeLongCsv } from './long-csv.ts'
import { type BusDialect, messagesOf, signalTable } from './signals.ts'
import { gzip } from './text-bytes.ts'
import { type WideDialect, writeWideCsv } from './wide-csv.ts'

/** One way to write a drive: its log and, for frames, the signal table. */
export interface LayoutCase {
  readonly name: string
  readonly log: Written
  readonly signals: Written | null
}

const WIDE: Readonly<Record<string, WideDialect>> = {
  'comma, words, brackets': {
    delimiter: ',',
    decimal: '.',
    time: 'seconds',
    names: 'words',
    unitsIn: 'brackets',
  },
  'semicolon, decimal comma, snake, mV and kPa behind': {
    delimiter: ';',
    decimal: ',',
    time: 'milliseconds',
    names: 'snake',
    unitsIn: 'suffix',
    units: { cell_voltage: 'mV', brake_pressure: 'kPa', isolation_resistance: 'MOhm' },
    encoding: 'utf-8 with BOM',
    lineEnd: '\r\n',
  },
  'tab, camel, row of units, ISO, UTF-16': {
    delimiter: '\t',
    decimal: '.',
    time: 'iso',
    names: 'camel',
    unitsIn: 'row',
    numberFrom: 0,
    encoding: 'utf-16le',
  },
  'comma, words, parentheses, wall clock, °F and mph, preamble': {
    delimiter: ',',
    decimal: '.',
    time: 'wall',
    names: 'words',
    unitsIn: 'parentheses',
    units: { module_temperature: '°F', speed: 'mph', brake_pressure: 'psi' },
    encoding: 'latin-1',
    preamble: ['Logger export', 'Rows follow the header'],
  },
}

const LONG: Readonly<Record<string, LongDialect>> = {
  'comma, words, unit': { delimiter: ',', decimal: '.', time: 'seconds', names: 'words', withUnit: true },
  'semicolon, decimal comma, snake': {
    delimiter: ';',
    decimal: ',',
    time: 'milliseconds',
    names: 'snake',
    withUnit: true,
  },
}

const PLAIN_BUS: BusDialect = {
  names: 'words',
  withChannels: true,
  extended: false,
  bigEndianNodes: ['inverter'],
  multiplexCells: false,
}

/** The first box's samples in every layout. */
export function allLayouts(made: Measured): LayoutCase[] {
  const box = made.boxes[0]!
  const samples = made.samples.filter((each) => each.box === box)
  const text = Object.entries(WIDE).map(
    ([name, dialect]): LayoutCase => ({
      name: `wide CSV: ${name}`,
      log: { name: 'wide.csv', bytes: writeWideCsv(samples, box, dialect) },
      signals: null,
    }),
  )
  const long = Object.entries(LONG).map(
    ([name, dialect]): LayoutCase => ({
      name: `long CSV: ${name}`,
      log: { name: 'long.csv.gz', bytes: gzip(writeLongCsv(samples, box, dialect)) },
      signals: null,
    }),
  )
  const plain = messagesOf(samples, PLAIN_BUS)
  const named = messagesOf(samples, {
    ...PLAIN_BUS,
    names: 'snake',
    withChannels: false,
    multiplexCells: true,
  })
  const long29 = messagesOf(samples, { ...PLAIN_BUS, extended: true, bigEndianNodes: ['battery', 'vehicle'] })
  const startsAt = '2031-09-02T10:00:00Z'
  const asJson = (messages: typeof plain): Written => ({
    name: 'signals.json',
    bytes: Buffer.from(signalTable(messages, 'json')),
  })
  const asCsv = (messages: typeof plain): Written => ({
    name: 'signals.csv',
    bytes: Buffer.from(signalTable(messages, 'csv')),
  })
  const frames = framesOf(plain, box)
  return [
    ...text,
    ...long,
    {
      name: 'frame CSV: comma, hex, one field',
      log: {
        name: 'frames.csv',
        bytes: writeFrameCsv(frames, { delimiter: ',', decimal: '.', identifier: '0x', data: 'one field' }),
      },
      signals: asJson(plain),
    },
    {
      name: 'frame CSV: semicolon, decimal comma, 29 bit, eight fields',
      log: {
        name: 'frames.csv.gz',
        bytes: gzip(
          writeFrameCsv(framesOf(long29, box), {
            delimiter: ';',
            decimal: ',',
            identifier: 'hex',
            data: 'eight fields',
          }),
        ),
      },
      signals: asCsv(long29),
    },
    {
      name: 'pcap: little-endian, microseconds',
      log: { name: 'bus.pcap', bytes: writePcap(frames, { nanoseconds: false, bigEndian: false, startsAt }) },
      signals: asJson(plain),
    },
    {
      name: 'pcap: big-endian, nanoseconds, gzip, cells share an identifier',
      log: {
        name: 'bus.pcap.gz',
        bytes: gzip(writePcap(framesOf(named, box), { nanoseconds: true, bigEndian: true, startsAt })),
      },
      signals: asCsv(named),
    },
    {
      name: 'pcapng: nanoseconds',
      log: {
        name: 'bus.pcapng',
        bytes: writePcapng(frames, { nanoseconds: true, bigEndian: false, startsAt }),
      },
      signals: asJson(plain),
    },
    {
      name: 'pcapng: big-endian, 29 bit',
      log: {
        name: 'bus.pcapng',
        bytes: writePcapng(framesOf(long29, box), { nanoseconds: false, bigEndian: true, startsAt }),
      },
      signals: asJson(long29),
    },
  ]
}
