import { catalogueEntry } from '../../../shared/channels.ts'
import type { Channel, DriveFrame } from '../../../shared/drive.ts'
import {
  DRIVE_FILE_FORM,
  type DriveFileHead,
  driveFileSchema,
  METADATA,
  type StoredColumn,
} from '../../../shared/drive-file.ts'
import type { RawLog, RawSeries } from '../../../shared/raw-log.ts'
import { visibleAll, visibleName } from '../../../shared/visible.ts'
import type { LogSource } from '../../bytes/file-source.ts'
import { LogError } from '../../errors.ts'
import { uniqueNames } from '../table/unique-names.ts'
import type { ParquetTable } from './parquet-columns.ts'

/** A drive that this program wrote: its channels to the last bit, and what was known of them. */
export async function readOwnDrive(source: LogSource, table: ParquetTable): Promise<RawLog> {
  const head = headOf(source.name, table)
  const time = await table.read('time', 0, table.rows)
  const bases = new Map<number, Float64Array>()
  const freshes = new Map<string, Uint8Array>()
  const channels = new Map<string, Channel>()
  const spares: Channel[] = []
  for (const each of head.columns) {
    const column = await table.read(each.column, 0, table.rows)
    const rows = rowsWithSample(column)
    let timeS = bases.get(each.base)
    if (!timeS) bases.set(each.base, (timeS = Float64Array.from(rows, (row) => time[row] as number)))
    if (timeS.length !== rows.length) throw damaged(source.name, each.column)
    if (each.fresh !== null && !freshes.has(each.fresh)) {
      const flags = await table.read(each.fresh, 0, table.rows)
      freshes.set(
        each.fresh,
        Uint8Array.from(rows, (row) => (flags[row] === true ? 1 : 0)),
      )
    }
    const channel: Channel = {
      id: visibleName(each.id),
      unit: each.unit,
      timeS,
      values: valuesOf(source.name, each, column, rows),
      fresh: each.fresh === null ? null : freshes.get(each.fresh)!,
      labels: each.labels === null ? null : each.labels.map(visibleName),
      file: visibleName(each.file),
      from: visibleName(each.from),
      step: each.step,
      polarity: each.polarity,
      ...(each.sign === undefined ? {} : { sign: each.sign }),
    }
    if (each.spare) spares.push(channel)
    else channels.set(channel.id, channel)
  }
  const { frame, vehicle, program } = visibleAll(head)
  return {
    name: source.name,
    sha256: await source.sha256(),
    layout: 'Parquet, a drive',
    rows: table.rows,
    skipped: [],
    series: seriesOf([...channels.values(), ...spares]),
    startedAt: frame.startedAt,
    fingerprint: `drive|${[...channels.keys()].join('|')}`,
    bus: null,
    events: frame.events,
    clockSteps: [],
    notes: [
      `its channels were read as aftermile ${program} had understood them from ${logsText(frame.files)}`,
    ],
    finished: { frame, channels, spares, vehicle },
  }
}

function logsText(files: DriveFrame['files']): string {
  return files.length === 0 ? 'its logs' : files.map(({ name }) => name).join(', ')
}

function headOf(name: string, { metadata }: ParquetTable): DriveFileHead {
  let json: unknown
  try {
    json = JSON.parse(metadata.get(METADATA.own)!)
  } catch {
    throw damaged(name, METADATA.own)
  }
  const form = (json as { form?: unknown } | null)?.form
  if (typeof form === 'number' && form > DRIVE_FILE_FORM)
    throw new LogError(
      'newer-file',
      `${name}: was written by a newer version of the program (form ${form}, this one knows ${DRIVE_FILE_FORM}): update the program.`,
    )
  const parsed = driveFileSchema.safeParse(json)
  if (!parsed.success) throw damaged(name, parsed.error.issues[0]!.path.join('.') || METADATA.own)
  return parsed.data as DriveFileHead
}

const damaged = (name: string, where: string): LogError =>
  new LogError(
    'parquet',
    `${name}: what it says of its channels is damaged (at ${where}); a drive as this program writes it was expected.`,
  )

function rowsWithSample(column: ArrayLike<unknown>): number[] {
  const rows: number[] = []
  for (let row = 0; row < column.length; row++)
    if (column[row] !== null && column[row] !== undefined) rows.push(row)
  return rows
}

function valuesOf(
  name: string,
  { as, labels, column: where }: StoredColumn,
  column: ArrayLike<unknown>,
  rows: readonly number[],
): Float64Array {
  const places = new Map(labels?.map((label, at) => [label, at]))
  return Float64Array.from(rows, (row) => {
    const value = as === 'label' ? places.get(column[row] as string) : column[row]
    if (typeof value !== 'number') throw damaged(name, where)
    return value
  })
}

/** Beside other logs, or with corrections, its channels count as columns that a table of signals names. */
function seriesOf(channels: readonly Channel[]): RawSeries[] {
  const names = uniqueNames(channels.map(({ from }) => from))
  return channels.map(({ id, unit, timeS, values, fresh, labels }, at) => ({
    name: names[at]!,
    unit: unit === '' ? null : unit,
    channel: catalogueEntry(id) ? id : null,
    timeS,
    values,
    fresh,
    labels,
    node: null,
  }))
}
