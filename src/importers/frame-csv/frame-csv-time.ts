import type { CsvHead } from '../table/csv-head.ts'
import { planTime, type TimePlan } from '../time/time-columns.ts'
import { readTimeText } from '../time/time-text.ts'

/** Fewer stamps show no spacing. */
const FEWEST_STAMPS = 3

/** How a frame CSV writes its time: the plan that all tables share, and what frames alone tell. */
export interface FrameTime extends TimePlan {
  /** A wall clock without a zone: daylight saving may step it. */
  readonly local: boolean
}

/** Frames a second on a bus that carries a car; outside it a guessed unit is wrong. Common practice, no source. */
const FEWEST = 4
const MOST = 30_000

/**
 * @param header names as written; an empty list where the log begins with its first frame (time first)
 * @param rows fields of the first frames
 * @param column where the header names the time
 * @returns null where no column can be the time
 */
export function frameTime(
  header: readonly string[],
  rows: readonly (readonly string[])[],
  delimiter: string,
  preamble: readonly string[],
  column: number,
): FrameTime | null {
  const names =
    header.length > 0 ? header : Array.from({ length: column + 1 }, (_, c) => unnamed(rows, c, column))
  // identifiers rise now and then, and a frame's own columns are never its time
  const seen = names.map((name, c) => (c === column || /^(date|datum|day)\b/i.test(name.trim()) ? name : ''))
  const decimal = delimiter !== ',' && rows.some((row) => /^\d+,\d+$/.test(row[column] ?? '')) ? ',' : '.'
  const head: CsvHead = {
    form: { encoding: 'utf-8', markBytes: 0 },
    delimiter,
    decimal,
    decimals: names.map(() => decimal),
    newline: '\n',
    header: seen,
    units: names.map((name) => /[[({]\s*([^\])}]+?)\s*[\])}]/.exec(name)?.[1] ?? null),
    headerLine: preamble.length + 1,
    firstLine: preamble.length + 2,
    preamble,
    sample: rows.slice(0, 300),
    emptyWords: new Set(),
    ragged: true,
  }
  const plan =
    planned(head) ?? planned({ ...head, header: seen.map((name, c) => (c === column ? asTime(name) : name)) })
  if (!plan) return null
  const zoned = /(Z|UTC|GMT|[+-]\d{2}:?\d{2})$/i.test((rows[0]?.[plan.column] ?? '').trim())
  const local = !plan.epoch && (plan.kind === 'stamp' || plan.kind === 'clock') && !zoned
  return { ...byFrameRate(plan, head, rows), local }
}

function planned(head: CsvHead): TimePlan | null {
  try {
    return planTime(head, 'log')
  } catch {
    return null
  }
}

/** What stands in a column without a name: the time, a date before it, or nothing that matters here. */
function unnamed(rows: readonly (readonly string[])[], c: number, column: number): string {
  if (c === column) return 'time'
  const isDate = c === column - 1 && readTimeText(rows[0]?.[c] ?? '', 'dmy')?.kind === 'date'
  return isDate ? 'date' : ''
}

/** The column is known as the time by its values, whatever it is called; its unit stays. */
const asTime = (name: string): string =>
  `time ${/[[({][^\])}]+[\])}]\s*$|(?<=[\s_.-])(ms|us|µs|ns|s|sec|msec|usec)$/i.exec(name)?.[0] ?? ''}`

/** Whole numbers without a unit: the largest unit under which the frames a second are those of a bus. */
function byFrameRate(plan: TimePlan, head: CsvHead, rows: readonly (readonly string[])[]): TimePlan {
  const said = /(^|[\s_.([-])(s|sec|seconds?|ms|msec|us|µs|μs|usec|ns|nsec|m(illi|icro)s\w*)[)\]]?$/i
  if (plan.kind !== 'number' || plan.epoch || said.test(head.header[plan.column]!.trim())) return plan
  const stamps = rows.map((row) => row[plan.column] ?? '').filter((field) => field !== '')
  if (stamps.length < FEWEST_STAMPS || !stamps.every((field) => /^\d+$/.test(field))) return plan
  const span = Number(stamps[stamps.length - 1]) - Number(stamps[0])
  const over = [1, 1e3, 1e6, 1e9].find((unit) => {
    const rate = (stamps.length - 1) / (span / unit)
    return rate >= FEWEST && rate <= MOST
  })
  if (over === undefined) return plan
  const unit = { 1: 'seconds', 1000: 'milliseconds', 1000000: 'microseconds', 1000000000: 'nanoseconds' }[
    over
  ]
  return {
    ...plan,
    times: 1,
    over,
    assumed: `The time's unit is not stated; ${unit} give a usual number of frames a second.`,
  }
}
