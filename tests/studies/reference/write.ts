import { catalogueEntry } from '../../../shared/channels.ts'
import type { Box, Clock } from '../../simulator/boxes.ts'
import type { Samples } from '../../simulator/measure.ts'
import type { Random } from '../../simulator/random.ts'
import { writePcap, writePcapng } from '../../simulator/writers/captures.ts'
import { decimalsFor, type Written } from '../../simulator/writers/columns.ts'
import { writeFrameCsv } from '../../simulator/writers/frame-csv.ts'
import { framesOf } from '../../simulator/writers/frames.ts'
import { writtenUnit } from '../../simulator/writers/names.ts'
import { messagesOf, signalTable } from '../../simulator/writers/signals.ts'
import { type Encoding, encode, gzip } from '../../simulator/writers/text-bytes.ts'
import { TIME_HEADER, type TimeForm, timeField } from '../../simulator/writers/time-field.ts'
import { type NameStyle, nameOf } from './names.ts'
import { familyOf, type Signal } from './scene.ts'

/** How one log is written. */
export interface Dialect {
  readonly layout: 'wide' | 'long' | 'frame CSV' | 'pcap' | 'pcapng'
  readonly names: NameStyle
  readonly delimiter: ',' | ';' | '\t'
  readonly decimal: '.' | ','
  readonly time: TimeForm
  readonly unitsIn: 'brackets' | 'parentheses' | 'suffix' | 'row' | 'nowhere'
  /** Family → unit other than the program's. */
  readonly units: Readonly<Record<string, string>>
  readonly encoding: Encoding
  readonly preamble: readonly string[]
  /** Columns in this order of chance; null as in the reference log. */
  readonly shuffled: Random | null
  readonly zipped: boolean
  /** Written with the sign turned, or lost. */
  readonly current: 'as is' | 'turned' | 'unsigned'
  /** Channels in percent written as 0 … 1. */
  readonly fractions: boolean
  /** Channel → state number → word written instead. */
  readonly words?: Readonly<Record<string, Readonly<Record<string, string>>>>
}

/** Which column holds which channel. */
export type Key = ReadonlyMap<string, string>

export interface WrittenLog {
  readonly logs: readonly Written[]
  readonly signals: Written | null
  readonly key: Key
}

/** @param clock of the box that wrote this log; a log of some channels is one of several boxes' */
export function writeLog(
  signals: readonly Signal[],
  dialect: Dialect,
  clock: Clock | null,
  name = 'drive',
): WrittenLog {
  const box: Box = { name, readings: [], rowHz: 100, ...(clock ? { clock } : {}) }
  const inOrder = dialect.shuffled ? shuffle(signals, dialect.shuffled) : signals
  const pack = (file: Written): Written =>
    dialect.zipped ? { name: `${file.name}.gz`, bytes: gzip(file.bytes) } : file
  if (dialect.layout === 'wide' || dialect.layout === 'long') {
    const key = new Map<string, string>()
    const columns = inOrder.map((signal) => columnOf(signal, dialect))
    for (const column of columns) key.set(column.header, column.signal.id)
    const text = dialect.layout === 'wide' ? wide(columns, box, dialect) : long(columns, box, dialect)
    return {
      logs: [pack({ name: `${name}.csv`, bytes: encode(text, dialect.encoding) })],
      signals: null,
      key,
    }
  }
  return frames(inOrder, box, dialect, pack)
}

interface Column {
  readonly signal: Signal
  readonly name: string
  readonly header: string
  readonly unit: string
  text(i: number): string
}

function columnOf(signal: Signal, dialect: Dialect): Column {
  const name = nameOf(signal.id, dialect.names)
  // A name that says percent holds percent.
  const fraction =
    dialect.fractions && (signal.id === 'soc' || signal.id === 'pedal_position') && !/pct/i.test(name)
  const unit = fraction ? { text: '', factor: 0.01, offset: 0 } : writtenUnit(signal.id, dialect.units)
  const kind = catalogueEntry(signal.id)?.kind
  const decimals = kind === 'number' ? decimalsFor(signal.step * unit.factor) : 0
  const turned = turnedOf(signal.id, dialect)
  return {
    signal,
    name,
    header: headed(name, unit.text, dialect.layout === 'wide' ? dialect.unitsIn : 'row'),
    unit: unit.text,
    text: (i) => {
      const value = turned(signal.values[i]!)
      if (Number.isNaN(value)) return ''
      const word = dialect.words?.[signal.id]?.[String(value)]
      if (word !== undefined) return word
      const text = (value * unit.factor + unit.offset).toFixed(decimals)
      const plain = /^-0(\.0*)?$/.test(text) ? text.slice(1) : text
      return dialect.decimal === ',' ? plain.replace('.', ',') : plain
    },
  }
}

function turnedOf(id: string, { current }: Dialect): (value: number) => number {
  if (id !== 'pack_current' || current === 'as is') return (value) => value
  return current === 'turned' ? (value) => -value : Math.abs
}

function headed(name: string, unit: string, where: Dialect['unitsIn']): string {
  if (unit === '' || where === 'row' || where === 'nowhere') return name
  if (where === 'brackets') return `${name} [${unit}]`
  if (where === 'parentheses') return `${name} (${unit})`
  return `${name}_${unit.replace('°', 'deg').replace('%', 'pct').replace('km/h', 'kmh').replace('/', '').toLowerCase()}`
}

function wide(columns: readonly Column[], box: Box, dialect: Dialect): string {
  const { delimiter } = dialect
  const [timeName, timeUnit] = TIME_HEADER[dialect.time]
  const lines = [
    ...dialect.preamble,
    [headed(timeName, timeUnit, dialect.unitsIn), ...columns.map((each) => each.header)].join(delimiter),
    ...(dialect.unitsIn === 'row' ? [[timeUnit, ...columns.map((each) => each.unit)].join(delimiter)] : []),
  ]
  walk(columns, (stamp, fields) => {
    lines.push([stampField(box, dialect, stamp), ...fields].join(delimiter))
  })
  return `${lines.join('\n')}\n`
}

function long(columns: readonly Column[], box: Box, dialect: Dialect): string {
  const { delimiter } = dialect
  const [timeName, timeUnit] = TIME_HEADER[dialect.time]
  const lines = [
    [timeUnit ? `${timeName} [${timeUnit}]` : timeName, 'Channel', 'Value', 'Unit'].join(delimiter),
  ]
  walk(columns, (stamp, fields) => {
    const time = stampField(box, dialect, stamp)
    fields.forEach((field, c) => {
      if (field !== '') lines.push([time, columns[c]!.name, field, columns[c]!.unit].join(delimiter))
    })
  })
  return `${lines.join('\n')}\n`
}

const stampField = (box: Box, dialect: Dialect, stamp: number): string => {
  const text = timeField(box, dialect.time, stamp)
  return dialect.decimal === ',' && dialect.time === 'seconds' ? text.replace('.', ',') : text
}

/** Row by row in order of time; two samples of a channel at one stamp make two rows. */
function walk(columns: readonly Column[], row: (stamp: number, fields: string[]) => void): void {
  const next = new Int32Array(columns.length)
  for (;;) {
    let stamp = Number.POSITIVE_INFINITY
    for (let c = 0; c < columns.length; c++) {
      const t = columns[c]!.signal.timeS[next[c]!]
      if (t !== undefined && t < stamp) stamp = t
    }
    if (stamp === Number.POSITIVE_INFINITY) return
    row(
      stamp,
      columns.map((column, c) => (column.signal.timeS[next[c]!] === stamp ? column.text(next[c]++) : '')),
    )
  }
}

function frames(
  signals: readonly Signal[],
  box: Box,
  dialect: Dialect,
  pack: (file: Written) => Written,
): WrittenLog {
  const reading = new Map<Float64Array, Map<string, Samples['reading']>>()
  const samples = signals.map((each): Samples => {
    const byGroup = reading.get(each.timeS) ?? new Map()
    reading.set(each.timeS, byGroup)
    const group = `${familyOf(each.id)}|${each.node}`
    const period = (each.timeS.at(-1)! - each.timeS[0]!) / Math.max(1, each.timeS.length - 1)
    const own = byGroup.get(group) ?? {
      channels: [],
      rateHz: 1 / period,
      step: each.step,
      node: each.node,
    }
    byGroup.set(group, own)
    const turned = turnedOf(each.id, dialect)
    return { id: each.id, reading: own, box, timeS: each.timeS, values: each.values.map(turned), fresh: null }
  })
  const { names, shuffled } = dialect
  const messages = messagesOf(samples, {
    names: 'words',
    withChannels: false,
    extended: shuffled?.chance(0.5) ?? false,
    bigEndianNodes: (shuffled?.chance(0.5) ?? false) ? ['battery', 'inverter'] : [],
    multiplexCells: shuffled?.chance(0.5) ?? false,
  }).map((message) => ({
    ...message,
    signals: message.signals.map((signal, at) => ({
      ...signal,
      name: nameOf(message.samples[at]!.id, names),
    })),
  }))
  const key = new Map(
    messages.flatMap((each) =>
      each.signals.map((signal, at) => [signal.name, each.samples[at]!.id] as const),
    ),
  )
  const sent = framesOf(messages, box)
  const capture = {
    nanoseconds: shuffled?.chance(0.5) ?? false,
    bigEndian: shuffled?.chance(0.5) ?? false,
    startsAt: '2031-10-11T07:05:00Z',
  }
  const file: Written =
    dialect.layout === 'frame CSV'
      ? {
          name: 'bus.csv',
          bytes: writeFrameCsv(sent, {
            delimiter: dialect.delimiter,
            decimal: dialect.decimal,
            identifier: 'hex',
            data: 'eight fields',
          }),
        }
      : dialect.layout === 'pcap'
        ? { name: 'bus.pcap', bytes: writePcap(sent, capture) }
        : { name: 'bus.pcapng', bytes: writePcapng(sent, capture) }
  const table = { name: 'signals.json', bytes: Buffer.from(signalTable(messages, 'json')) }
  return { logs: [pack(file)], signals: table, key }
}

function shuffle<T>(list: readonly T[], random: Random): T[] {
  const left = [...list]
  for (let i = left.length - 1; i > 0; i--) {
    const j = random.whole(0, i)
    ;[left[i], left[j]] = [left[j]!, left[i]!]
  }
  return left
}

/** Plain wide CSV with units in brackets. */
export function plainDialect(names: NameStyle): Dialect {
  return {
    layout: 'wide',
    names,
    delimiter: ',',
    decimal: '.',
    time: 'seconds',
    unitsIn: 'brackets',
    units: {},
    encoding: 'utf-8',
    preamble: [],
    shuffled: null,
    zipped: false,
    current: 'as is',
    fractions: false,
  }
}

/** Any dialect. Units that no value can tell (psi, mph, °F) are always stated. */
export function randomDialect(names: NameStyle, random: Random): Dialect {
  const delimiter = random.pick([',', ';', '\t'] as const)
  const unitsIn = random.pick(['brackets', 'parentheses', 'suffix', 'row', 'nowhere'] as const)
  const stated = unitsIn !== 'nowhere'
  return {
    layout: random.pick(['wide', 'wide', 'wide', 'wide', 'long', 'frame CSV', 'pcap', 'pcapng']),
    names,
    delimiter,
    decimal: delimiter === ',' ? '.' : random.pick(['.', ',']),
    time: random.pick(['seconds', 'milliseconds', 'iso', 'wall', 'clock', 'counter16']),
    unitsIn,
    units: {
      ...(random.chance(0.5) ? { cell_voltage: 'mV' } : {}),
      ...(stated && random.chance(0.5) ? { brake_pressure: random.pick(['kPa', 'psi', 'MPa']) } : {}),
      ...(stated && random.chance(0.3) ? { speed: random.pick(['mph', 'm/s']) } : {}),
      ...(stated && random.chance(0.3) ? { module_temperature: '°F' } : {}),
      ...(stated && random.chance(0.3) ? { isolation_resistance: 'MOhm' } : {}),
      ...(stated && random.chance(0.3) ? { pedal_track_1: 'mV', pedal_track_2: 'mV' } : {}),
    },
    encoding: random.pick(['utf-8', 'utf-8 with BOM', 'utf-16le', 'latin-1']),
    preamble: random.chance(0.3) ? ['Logged by the workshop box', 'Car;Juniper', ''] : [],
    shuffled: random.fork('columns'),
    zipped: random.chance(0.4),
    current: random.pick(['as is', 'as is', 'turned']),
    fractions: random.chance(0.2),
  }
}
