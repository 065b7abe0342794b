import type { RawLog, RawSeries } from '../../../shared/raw-log.ts'
import type { LogSource } from '../../bytes/file-source.ts'
import { LogError } from '../../errors.ts'
import { logTime } from '../time/log-time.ts'
import { planTime, type TimePlan } from '../time/time-columns.ts'
import type { ColumnStore, StoredColumn } from './column-store.ts'
import { type CsvHead, readCsvHead } from './csv-head.ts'
import { type Reader, readTable } from './read-table.ts'
import { uniqueNames } from './unique-names.ts'

/** A row a moment, a column a channel. */
export async function readWideCsv(
  log: LogSource,
  options: { readonly progress?: (share: number) => void; readonly reader?: Reader } = {},
): Promise<RawLog> {
  const head = readCsvHead(log.head, log.name)
  const plan = planTime(head, log.name)
  const table = await readTable(log, head, plan, options)
  const { store } = table
  if (store.rows === 0)
    throw new LogError(
      'no-rows',
      `${log.name}: no row after line ${head.headerLine} could be read; rows of ${head.header.length} fields with a time were expected.`,
    )
  const names = uniqueNames(head.header)
  const columns = store.finish(names)
  if (columns.every(({ values, labels }) => labels !== null || values.every(Number.isNaN)))
    throw new LogError(
      'no-numbers',
      `${log.name}: no column after line ${head.headerLine} holds numbers; a log of values was expected.`,
    )
  const time = logTime(store.stamps.subarray(0, store.rows), plan, {
    sharedStamps: false,
    zone: table.zone,
    preamble: head.preamble,
    lineOf: (row) => store.lines[row]!,
    sameRow: rowsAlike(
      columns.map(({ values }) => values),
      (c) => store.rowsOf(c),
      store.rows,
    ),
  })
  return {
    name: log.name,
    sha256: await log.sha256(),
    layout: log.packed ? 'wide CSV, gzip' : 'wide CSV',
    rows: store.rows,
    skipped: [
      ...table.skipped,
      ...time.skipped,
      ...columns.flatMap((column, c) => (plan.beside.includes(c) ? [] : column.skipped)),
    ],
    series: seriesOf(head, plan, names, columns, store, time),
    startedAt: time.startedAt,
    fingerprint: `wide|${head.header.join('|')}`,
    bus: null,
    events: [],
    clockSteps: time.steps,
    repeats: time.repeats,
    notes: time.notes,
  }
}

/** The columns that are channels; columns of one group share their times. */
function seriesOf(
  head: CsvHead,
  plan: TimePlan,
  names: readonly string[],
  columns: readonly StoredColumn[],
  store: ColumnStore,
  { timeS, dropped }: { readonly timeS: Float64Array; readonly dropped: boolean },
): RawSeries[] {
  const groups = new Map<number, ReturnType<typeof timesOf>>()
  return columns.flatMap((column, c): RawSeries[] => {
    if (c === plan.column || c === plan.dateColumn || plan.beside.includes(c)) return []
    // What a delimiter at the line's end makes is no column.
    if (column.values.length === 0 && names[c] === `column ${c + 1}`) return []
    let group = groups.get(column.group)
    if (!group) {
      group = timesOf(timeS, store.rowsOf(c), column.values.length, dropped)
      groups.set(column.group, group)
    }
    return [
      {
        name: names[c]!,
        unit: head.units[c] ?? column.unit,
        channel: null,
        timeS: group.timeS,
        values: group.kept ? keepOnly(column.values, group.kept) : column.values,
        fresh: null,
        labels: column.labels,
        node: null,
      },
    ]
  })
}

/** Enough columns to tell two rows apart. */
const COMPARED = 24

/**
 * Compares rows field by field (an empty field is like an empty field only), looked at only where time goes back.
 * @param hasOf rows in which a column has samples; null: all
 */
function rowsAlike(
  columns: readonly Float64Array[],
  hasOf: (c: number) => Uint8Array | null,
  rows: number,
): (a: number, b: number) => boolean {
  let fields: ((row: number) => number)[] | null = null
  const prepared = (): ((row: number) => number)[] => {
    const fullest = columns.map((values, c) => ({ values, c })).filter(({ values }) => values.length > 0)
    fullest.sort((a, b) => b.values.length - a.values.length)
    return fullest.slice(0, COMPARED).map(({ values, c }) => fieldOf(values, hasOf(c), rows))
  }
  return (a, b) => {
    fields ??= prepared()
    return fields.length > 0 && fields.every((field) => Object.is(field(a), field(b)))
  }
}

/** A column's value in a row; NaN where the field is empty. */
function fieldOf(values: Float64Array, has: Uint8Array | null, rows: number): (row: number) => number {
  if (!has) return (row) => values[row]!
  const before = new Int32Array(rows)
  for (let row = 1; row < rows; row++) before[row] = before[row - 1]! + has[row - 1]!
  return (row) => (has[row] ? values[before[row]!]! : Number.NaN)
}

/**
 * Times of the rows in which a group of columns has samples.
 * @param has per row; null: all
 * @param samples rows that have one
 * @param dropped rows were left out (NaN in `timeS`): then `kept` says which of the group's samples stay
 */
function timesOf(
  timeS: Float64Array,
  has: Uint8Array | null,
  samples: number,
  dropped: boolean,
): { timeS: Float64Array; kept: Uint8Array | null } {
  if (!has && !dropped) return { timeS, kept: null }
  const times = new Float64Array(samples)
  let at = 0
  for (let row = 0; row < timeS.length; row++) if (!has || has[row]) times[at++] = timeS[row]!
  if (!dropped) return { timeS: times, kept: null }
  const kept = Uint8Array.from(times, (time) => (Number.isNaN(time) ? 0 : 1))
  return { timeS: keepOnly(times, kept), kept }
}

function keepOnly(values: Float64Array, kept: Uint8Array): Float64Array {
  let at = 0
  for (let i = 0; i < values.length; i++) if (kept[i]) values[at++] = values[i]!
  return values.subarray(0, at)
}
