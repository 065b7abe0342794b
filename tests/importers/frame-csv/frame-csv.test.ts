import { describe, expect, test } from 'vitest'
import { isFrameCsv } from '../../../src/importers/frame-csv/frame-csv.ts'
import { byteSignals, frameLogFromBytes, valuesOf } from '../../helpers/frame-log-from-bytes.ts'

/** Rows of one small bus, written by a function each; the same frames must come out of every way of writing. */
const FRAMES = Array.from({ length: 60 }, (_, i) => ({
  s: 5 + i * 0.0125,
  id: i % 3 === 2 ? 0x18fef100 : 0x123 + (i % 3),
  extended: i % 3 === 2,
  data: [i, 255 - i, 0, 0xab, 16, 9, 8, 7],
}))
type Frame = (typeof FRAMES)[number]

const SIGNALS = [...byteSignals(0x123, 4), ...byteSignals(0x124, 4), ...byteSignals('0x18FEF100', 4)]
const hex2 = (byte: number): string => byte.toString(16).toUpperCase().padStart(2, '0')
const hex3 = (id: number): string => id.toString(16).toUpperCase().padStart(3, '0')

const WANT = [0, 1, 2].flatMap((n) =>
  [0, 1, 2, 3].map((k) => FRAMES.filter((_, i) => i % 3 === n).map((frame) => frame.data[k]!)),
)

const text = (header: string | null, row: (frame: Frame) => string, end = '\n'): string =>
  [...(header === null ? [] : [header]), ...FRAMES.map(row)].join(end) + end

const WAYS: Readonly<Record<string, string>> = {
  'eight hex columns, semicolons, a flag': text(
    'Time (s);ID (hex);Extended;Length;B0;B1;B2;B3;B4;B5;B6;B7',
    (f) => `${f.s};${hex3(f.id)};${+f.extended};8;${f.data.map(hex2).join(';')}`,
  ),
  'one field with blanks, 0x identifiers': text(
    'time,id,dlc,data',
    (f) => `${f.s},0x${f.id.toString(16)},8,${f.data.map(hex2).join(' ')}`,
  ),
  'one field without blanks': text(
    't [s],identifier,len,payload',
    (f) => `${f.s},${hex3(f.id)},8,${f.data.map(hex2).join('')}`,
  ),
  'one 0x field': text(
    'timestamp,can_id,dlc,data',
    (f) => `${f.s},0x${hex3(f.id)},8,0x${f.data.map(hex2).join('')}`,
  ),
  '0x before each byte, quotes': text(
    '"Time","Identifier","DLC","Data"',
    (f) => `"${f.s}","0x${hex3(f.id)}","8","${f.data.map((b) => `0x${hex2(b)}`).join(' ')}"`,
  ),
  'decimal identifiers and bytes, tabs': text(
    'Time\tID (dec)\tLength\tD1\tD2\tD3\tD4\tD5\tD6\tD7\tD8',
    (f) => `${f.s}\t${f.id}\t8\t${f.data.join('\t')}`,
  ),
  'decimal identifiers without a word about it: the signal table tells': text(
    'Time,ID,DLC,Byte0,Byte1,Byte2,Byte3,Byte4,Byte5,Byte6,Byte7',
    (f) => `${f.s},${f.id},8,${f.data.join(',')}`,
  ),
  'decimal commas, CRLF, preamble': `recorder 3\nbus: 500 kbit/s\n${text(
    'Zeit [s];ID;Ext;DLC;Daten',
    (f) =>
      `${String(f.s).replace('.', ',')};${hex3(f.id)};${f.extended ? 'x' : ''};8;${f.data.map(hex2).join(' ')}`,
    '\r\n',
  ).replace('Daten', 'Data')}`,
  'columns in another order, kind in words': text(
    'Data,Length,Frame format,ID,Time',
    (f) => `${f.data.map(hex2).join('-')},8,${f.extended ? 'Extended' : 'Standard'},${hex3(f.id)},${f.s}`,
  ),
  'milliseconds by the header': text(
    'time_ms,id,dlc,data',
    (f) => `${(f.s * 1000).toFixed(1)},${hex3(f.id)},8,${f.data.map(hex2).join(' ')}`,
  ),
  'whole microseconds without a unit': text(
    'Time,ID,DLC,Data',
    (f) => `${Math.round(f.s * 1e6)},${hex3(f.id)},8,${f.data.map(hex2).join(' ')}`,
  ),
  'no header': text(null, (f) => `${f.s.toFixed(4)},${hex3(f.id)},8,${f.data.map(hex2).join(' ')}`),
  'no header, a column a byte': text(
    null,
    (f) => `${f.s.toFixed(4)};${hex3(f.id)};8;${f.data.map(hex2).join(';')}`,
  ),
  'blanks between the fields, no header': text(
    null,
    (f) => `${f.s.toFixed(4)}  ${hex3(f.id)} 8 ${f.data.map(hex2).join(' ')}`,
  ),
  'blanks between the fields, a header': text(
    'Time ID DLC Data',
    (f) => `${f.s.toFixed(4)} ${hex3(f.id)} 8 ${f.data.map(hex2).join(' ')}`,
  ),
  'upright strokes': text('time|id|dlc|data', (f) => `${f.s}|${hex3(f.id)}|8|${f.data.map(hex2).join('')}`),
  'the kind tells extended': text(
    'Time;Type;ID;DLC;Data',
    (f) => `${f.s};${f.extended ? 'Ext' : 'Std'};${hex3(f.id)};8;${f.data.map(hex2).join('')}`,
  ),
  'identifiers all eight digits wide': text(
    'time;id;dlc;data',
    (f) => `${f.s};${f.id.toString(16).padStart(8, '0')};8;${f.data.map(hex2).join(' ')}`,
  ),
  'identifiers with a letter behind': text(
    'time;id;dlc;data',
    (f) => `${f.s};${f.id.toString(16)}${f.extended ? 'x' : 'h'};8;${f.data.map(hex2).join(' ')}`,
  ),
}

/** A payload whose length differs from frame to frame, so that columns behind it move. */
const short = (f: Frame): number[] => f.data.slice(0, 4 + (f.data[0]! % 5))

/** Columns in any order, in words that say nothing, or without any: told by their values alone. */
const BY_VALUES: Readonly<Record<string, string>> = {
  'identifier first, time behind the length': text(
    null,
    (f) => `0x${hex3(f.id)},8,${f.s.toFixed(4)},${f.data.map(hex2).join(' ')}`,
  ),
  'stamp in brackets, bus, identifier#data': text(
    null,
    (f) => `(${f.s.toFixed(6)}) can0 ${hex3(f.id)}#${f.data.map(hex2).join('')}`,
  ),
  'identifier#data, four bytes': text(
    null,
    (f) => `(${f.s.toFixed(4)}) can0 ${hex3(f.id)}#${f.data.slice(0, 4).map(hex2).join('')}`,
  ),
  'identifiers of eight digits, as long as a payload, before the #': text(
    null,
    (f) =>
      `(${f.s.toFixed(6)}) can1 ${f.id.toString(16).padStart(8, '0')}#${f.data.slice(0, 4).map(hex2).join('')}`,
  ),
  'length in square brackets, bytes between blanks': text(
    null,
    (f) => ` (${f.s.toFixed(6)})  can0  ${hex3(f.id)}   [8]  ${f.data.map(hex2).join(' ')}`,
  ),
  'a count, a direction and a text behind bytes of varying number': text(
    null,
    (f) =>
      `17 ${f.s.toFixed(4)} 1 ${hex3(f.id)}${f.extended ? 'x' : ''} Rx d ${short(f).length} ${short(f).map(hex2).join(' ')} Length=200 BitCount=110`,
  ),
  'bytes in decimal in one field, identifiers with 0x, the time last': text(
    null,
    (f) => `Rx;0x${hex3(f.id)};8;${f.data.join(' ')};${String(f.s).replace('.', ',')}`,
  ),
  'decimal bytes a column each, no header': text(
    null,
    (f) => `${f.s.toFixed(4)};0x${hex3(f.id)};8;${f.data.join(';')}`,
  ),
  'a header in words of no language of ours': text(
    'Idő [ms];Azonosító;Hossz;Tartalom',
    (f) => `${(f.s * 1000).toFixed(1)};0x${hex3(f.id)};8;${f.data.map(hex2).join(' ')}`,
  ),
  'a preamble without marks': `recorder seven\nbus one\n${text(null, (f) => `${hex3(f.id)}\t${f.s.toFixed(4)}\t8\t${f.data.map(hex2).join(' ')}`)}`,
}

const RELATIVE = [
  'Relative',
  'Rel. Time',
  'Elapsed',
  'Elapsed Time',
  'RelativeTime',
  'Elapsed (s)',
  'relative_time_s',
]

describe('frames told by their values', () => {
  test.each(Object.entries(BY_VALUES))('%s', async (_, csv) => {
    const log = await frameLogFromBytes(csv, SIGNALS)
    expect(log).toMatchObject({ layout: 'frame CSV', rows: 60, skipped: [] })
    expect(valuesOf(log)).toEqual(WANT)
    expect(log.series[0]!.timeS[1]!).toBeCloseTo(FRAMES[3]!.s, 6)
  })

  test.each(RELATIVE)('the time is called "%s", bytes are decimal', async (name) => {
    const csv = text(
      `${name};Identifier;DLC;Data (dec)`,
      (f) => `${f.s};0x${hex3(f.id)};8;${f.data.join(' ')}`,
    )
    const log = await frameLogFromBytes(csv, SIGNALS)
    expect(valuesOf(log)).toEqual(WANT)
    expect([...log.series[0]!.timeS].map((s) => s.toFixed(4))).toEqual(
      FRAMES.filter((_, i) => i % 3 === 0).map((frame) => frame.s.toFixed(4)),
    )
  })

  test('an absolute time beside an elapsed one', async () => {
    const csv = text(
      'Elapsed;Relative;CAN ID;DLC;Payload',
      (f) => `${f.s};${0.0125};0x${hex3(f.id)};8;${f.data.join(',')}`,
    )
    expect(valuesOf(await frameLogFromBytes(csv, SIGNALS))).toEqual(WANT)
  })

  const n = Array.from({ length: 60 }, (_, i) => i)
  test.each([
    ['whole numbers', n.map((i) => `${i},335,2,${82 - (i % 3)},25,1,0,0,0`)],
    ['a header above whole numbers', ['t,U,gear,soc,T', ...n.map((i) => `${i},335,2,82,2${i % 9}`)]],
    [
      'states in hexadecimal',
      ['time;state;lim;a;b', ...n.map((i) => `${i / 10};0x0${i % 5};2;40;4${i % 7}`)],
    ],
    ['a row a sample', n.map((i) => `${i / 10},speed,${i}`)],
    ['blanks', ['time ucell icell', ...n.map((i) => `${i / 10} 3.7${i} 12${i}`)]],
    ['clock and notes', n.map((i) => `10:00:${String(i).padStart(2, '0')};12;ab;key on`)],
  ])('a table is no frame log: %s', (_, lines) => {
    expect(isFrameCsv(Buffer.from(lines.join('\n')))).toBe(false)
  })
})

describe('frame CSV', () => {
  test.each(Object.entries(WAYS))('%s', async (_, csv) => {
    const log = await frameLogFromBytes(csv, SIGNALS)
    expect(log).toMatchObject({ layout: 'frame CSV', rows: 60, skipped: [], startedAt: null })
    expect(valuesOf(log)).toEqual(WANT)
    const times = [...log.series[0]!.timeS]
    expect(times.map((time) => time.toFixed(6))).toEqual(
      FRAMES.filter((_, i) => i % 3 === 0).map((frame) => frame.s.toFixed(6)),
    )
  })

  const stamps: Readonly<Record<string, (s: number) => string>> = {
    'ISO 8601': (s) => new Date(1_773_479_553_000 + s * 1000).toISOString(),
    'date and time, decimal comma': (s) =>
      new Date(1_773_479_553_000 + s * 1000)
        .toISOString()
        .replace('T', ' ')
        .replace('Z', '')
        .replace('.', ','),
    'seconds since 1970': (s) => (1_773_479_553 + s).toFixed(6),
    'microseconds since 1970': (s) => String(Math.round((1_773_479_553 + s) * 1e6)),
  }
  test.each(Object.entries(stamps))('wall clock: %s', async (_, write) => {
    const csv = text(
      'Timestamp;ID;DLC;Data',
      (f) => `${write(f.s)};${hex3(f.id)};8;${f.data.map(hex2).join(' ')}`,
    )
    const log = await frameLogFromBytes(csv, SIGNALS)
    expect(valuesOf(log)).toEqual(WANT)
    expect(log.startedAt?.slice(0, 23)).toBe('2026-03-14T09:12:38.000')
    expect(log.series[0]!.timeS[1]).toBeCloseTo(0.0375, 2)
  })

  test('date and clock in columns of their own', async () => {
    const csv = text('Date;Time;ID;DLC;Data', (f) => {
      const stamp = new Date(1_773_479_553_000 + f.s * 1000).toISOString()
      return `${stamp.slice(0, 10)};${stamp.slice(11, 23)};${hex3(f.id)};8;${f.data.map(hex2).join(' ')}`
    })
    const log = await frameLogFromBytes(csv, SIGNALS)
    expect(valuesOf(log)).toEqual(WANT)
    expect(log.startedAt).toBe('2026-03-14T09:12:38.000')
  })

  test('UTF-16 and gzip', async () => {
    const csv = WAYS['one field with blanks, 0x identifiers']!
    const utf16 = Buffer.concat([Buffer.from([0xff, 0xfe]), Buffer.from(csv, 'utf16le')])
    expect(valuesOf(await frameLogFromBytes(utf16, SIGNALS, { gzip: true }))).toEqual(WANT)
  })

  test('rows that are no frames are counted with the first line, remote and error rows by kind', async () => {
    const csv = [
      'Time;ID;Type;Length;Data',
      '0.1;123;Data;2;01 02',
      '0.2;123;Remote;2;',
      '0.3;;Error;0;',
      '0.35;0;Error;0;',
      '0.4;xyz;Data;2;01 02',
      'noon;123;Data;2;01 02',
      '0.5;123;Data;2;01 0G',
      '0.6;123;Data;8;03 04',
      ...Array.from({ length: 20 }, (_, i) => `${0.7 + i / 10};124;Data;1;00`),
    ].join('\n')
    const log = await frameLogFromBytes(csv, [...byteSignals(0x123, 2), ...byteSignals(0x124, 1)])
    expect(valuesOf(log).slice(0, 2)).toEqual([
      [1, 3],
      [2, 4],
    ])
    expect(log.bus).toMatchObject({ remote_frames: 1, error_frames: 1 })
    expect(log.skipped.map((each) => `${each.what}: ${each.count}, ${each.first}`)).toEqual([
      'rows whose identifier cannot be read: 2, line 4',
      'rows whose time cannot be read: 1, line 7',
      'rows whose data bytes cannot be read: 1, line 8',
      'rows with fewer data bytes than their length: 1, line 9',
    ])
  })

  test('a length code above 8 stands for more bytes', async () => {
    const bytes = Array.from({ length: 20 }, (_, k) => hex2(k)).join('')
    const csv = `Time;ID;DLC;Data\n${[0, 1, 2].map((i) => `${i / 10};123;11;${bytes}`).join('\n')}\n`
    const log = await frameLogFromBytes(csv, byteSignals(0x123, 20))
    expect(valuesOf(log).map((values) => values[0])).toEqual(Array.from({ length: 20 }, (_, k) => k))
    expect(log.skipped).toEqual([])
  })

  test('standard and extended identifiers with the same number stay apart by the flag', async () => {
    const csv = 'time,id,ext,len,data\n0,100,0,1,07\n0.01,100,1,1,08\n0.02,100,0,1,09\n0.03,100,1,1,0A\n'
    const log = await frameLogFromBytes(csv, [
      { identifier: 0x100, name: 'short', start_bit: 0, length: 8, byte_order: 'little' },
      { identifier: 0x100, extended: true, name: 'long', start_bit: 0, length: 8, byte_order: 'little' },
    ])
    expect(valuesOf(log)).toEqual([
      [7, 9],
      [8, 10],
    ])
  })
})

test('a table whose first columns are switches is no frame log, though they look like identifier and length', () => {
  const rows = Array.from({ length: 40 }, (_, i) => `${i / 10},0,1,1,0,335.${i % 10},0.2`)
  const table = ['Time [s],Plug,Interlock,Inertia,Brake,Pack voltage [V],Pack current [A]', ...rows].join(
    '\n',
  )
  expect(isFrameCsv(Buffer.from(table))).toBe(false)
  // A log that begins with its first frame still is one.
  const frames = Array.from({ length: 40 }, (_, i) => `${i / 10},123,2,0A,${hex2(i)}`).join('\n')
  expect(isFrameCsv(Buffer.from(frames))).toBe(true)
})
