import { channelLabel } from '../../shared/channels.ts'
import type { Channel, ChannelReport, Drive } from '../../shared/drive.ts'
import type { ColumnNote, StoredColumn } from '../../shared/drive-file.ts'
import { type SharedRows, samplesInRows, shareRows } from './one-table.ts'
import type { OutColumn, OutTable, OutValue, OutValues } from './out-table.ts'

/** The channels of a drive as one table, and how its columns become channels again. */
export interface ChannelTable {
  readonly table: OutTable
  readonly stored: readonly StoredColumn[]
}

/**
 * A row a moment, `time` first, a column a channel under its id, second readings after them, and for channels read
 * with held rows a column that says which samples are new.
 */
export function channelTable(drive: Pick<Drive, 'channels' | 'spares' | 'reports'>): ChannelTable {
  const channels = [...drive.channels.values(), ...drive.spares].filter(({ timeS }) => timeS.length > 0)
  const bases = [...new Set(channels.map(({ timeS }) => timeS))]
  const shared = shareRows(bases)
  const taken = new Set(['time'])
  const columns: OutColumn[] = [timeColumn(shared.timeS)]
  const stored: StoredColumn[] = []
  const freshColumns = new Map<Uint8Array, string>()
  const fresh: OutColumn[] = []
  for (const channel of channels) {
    const base = bases.indexOf(channel.timeS)
    const name = freeName(channel.id, taken)
    const as = asLabels(channel) ? 'label' : 'number'
    const rows = rowsOf(shared, base)
    columns.push({
      type: as === 'label' ? 'text' : 'number',
      note: noteOf(name, channel, drive.reports),
      slice: as === 'label' ? words(channel, rows) : numbers(channel.values, rows),
    })
    if (channel.fresh && !freshColumns.has(channel.fresh)) {
      const freshName = freeName(`fresh.${freshColumns.size + 1}`, taken)
      freshColumns.set(channel.fresh, freshName)
      fresh.push(freshColumn(freshName, channel, rows))
    }
    stored.push({
      column: name,
      id: channel.id,
      unit: channel.unit,
      base,
      labels: channel.labels === null ? null : [...channel.labels],
      as,
      file: channel.file,
      from: channel.from,
      step: channel.step,
      polarity: channel.polarity,
      ...(channel.sign === undefined ? {} : { sign: channel.sign }),
      fresh: channel.fresh ? freshColumns.get(channel.fresh)! : null,
      spare: drive.spares.includes(channel),
    })
  }
  return { table: { name: 'channels', rows: shared.timeS.length, columns: [...columns, ...fresh] }, stored }
}

type RowsOf = (from: number, to: number) => readonly [first: number, last: number, rowOf: Int32Array | null]

/** Which samples lie in which rows; no places where the base has a sample in every row. */
function rowsOf(shared: SharedRows, base: number): RowsOf {
  const rowOf = shared.rowOf[base]!
  const dense = rowOf.length === shared.timeS.length
  return (from, to) => (dense ? [from, to, null] : [...samplesInRows(rowOf, from, to), rowOf])
}

function timeColumn(timeS: Float64Array): OutColumn {
  const about = 'since the drive’s start'
  return { type: 'number', note: { name: 'time', unit: 's', about }, slice: (a, b) => timeS.subarray(a, b) }
}

function numbers(values: Float64Array, rows: RowsOf): (from: number, to: number) => OutValues {
  return (from, to) => {
    const [first, last, rowOf] = rows(from, to)
    if (rowOf === null || last - first === to - from) return values.subarray(first, last)
    return placed(from, to, first, last, rowOf, (i) => values[i]!)
  }
}

function words({ values, labels }: Channel, rows: RowsOf): (from: number, to: number) => OutValue[] {
  return (from, to) => {
    const [first, last, rowOf] = rows(from, to)
    return placed(from, to, first, last, rowOf, (i) => labels![values[i]!]!)
  }
}

function freshColumn(name: string, channel: Channel, rows: RowsOf): OutColumn {
  const fresh = channel.fresh!
  return {
    type: 'switch',
    note: { name, unit: '', about: 'false: the row only repeated the last value read' },
    slice: (from, to) => {
      const [first, last, rowOf] = rows(from, to)
      return placed(from, to, first, last, rowOf, (i) => fresh[i] !== 0)
    },
  }
}

function placed(
  from: number,
  to: number,
  first: number,
  last: number,
  rowOf: Int32Array | null,
  value: (sample: number) => OutValue,
): OutValue[] {
  const out = new Array<OutValue>(to - from).fill(null)
  for (let i = first; i < last; i++) out[(rowOf ? rowOf[i]! : i) - from] = value(i)
  return out
}

/** Words go out as words, where every sample is one and no word stands for two codes. */
function asLabels({ labels, values }: Channel): boolean {
  return (
    labels !== null &&
    new Set(labels).size === labels.length &&
    values.every((value) => labels[value] !== undefined)
  )
}

function freeName(wish: string, taken: Set<string>): string {
  let name = wish
  for (let n = 2; taken.has(name); n++) name = `${wish} (${n})`
  taken.add(name)
  return name
}

function noteOf(name: string, channel: Channel, reports: readonly ChannelReport[]): ColumnNote {
  const source = `${channel.file}: ${channel.from}`
  const report = reports.find(({ id, from }) => id === channel.id && from === source)
  return {
    name,
    unit: channel.unit,
    about: channelLabel(channel.id),
    channel: channel.id,
    file: channel.file,
    from: channel.from,
    ...(report ? { unit_in: report.unit_in, conversion: report.conversion, sureness: report.sureness } : {}),
  }
}
