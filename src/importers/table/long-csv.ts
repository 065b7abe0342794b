import type { Skipped } from '../../../shared/drive.ts'
import type { RawLog, RawSeries } from '../../../shared/raw-log.ts'
import { isUnit } from '../../../shared/units.ts'
import type { LogSource } from '../../bytes/file-source.ts'
import { LogError } from '../../errors.ts'
import { logTime } from '../time/log-time.ts'
import { planTime, type TimePlan } from '../time/time-columns.ts'
import { isTimeText } from '../time/time-text.ts'
import type { StoredColumn } from './column-store.ts'
import { type CsvHead, readCsvHead } from './csv-head.ts'
import { readField } from './field-text.ts'
import { headerUnit } from './header-unit.ts'
import { type Reader, readTable } from './read-table.ts'

/** Time, name and value, perhaps unit, node and quality: more are a wide table; no source. */
const FEWEST_COLUMNS = 3
/** See above. */
const MOST_COLUMNS = 8
/** Fewer lines show no habit. */
const FEWEST_LINES = 3
/** Nearly every field of the column is a name. */
const NEARLY_ALL = 0.9
/** And differs from the one before in every second row: channels take turns; no source. */
const CHANGES = 0.5
/** A column without a title that has fewer words is a state. */
const FEWEST_NAMES = 3
/** Mostly numbers. */
const MOSTLY = 0.5
/** Beside time, name and one more nothing else could be meant. */
const PLAIN_COLUMNS = 4

/** Which columns of a row-a-sample table say what. */
interface LongColumns {
  readonly name: number
  readonly value: number
  /** −1 where no column tells the unit. */
  readonly unit: number
}

const NAME =
  /^(channel|signal|name|parameter|param|variable|tag|sensor|measurement|measurand|item|label|quantity|kanal|messgröße|signalname|channel[\s_]?name|signal[\s_]?name|voie|canal|kanaal|señal|segnale|sinal|signaal|nombre|nome|naam|navn|namn|grandezza|id)$/i
const VALUE =
  /^(value|val|reading|wert|messwert|valeur|valor|valore|waarde|värde|verdi|værdi|wartość|data|result|physical[\s_]?value|phys[\s_]?value)$/i
const UNIT = /^(units?|einheit|unité|unidad|unità|unidade|eenheid|enhet|enhed|jednostka|uom|dimension)$/i
const NONE: ReadonlySet<string> = new Set()

/** A CSV with a row a sample: time, channel name, value (and unit)? */
export function isLongCsv(bytes: Uint8Array): boolean {
  try {
    const head = readCsvHead(bytes, 'log')
    return longColumns(head) !== null
  } catch {
    return false
  }
}

function longColumns(head: CsvHead): LongColumns | null {
  const { header, sample } = head
  if (header.length < FEWEST_COLUMNS || header.length > MOST_COLUMNS || sample.length < FEWEST_LINES)
    return null
  const at = (pattern: RegExp): number =>
    header.findIndex((name) => pattern.test(name.trim().replace(/\s*[[(].*$/, '')))
  const texts = header.map((_, c) => wordsIn(head, c))
  const named = at(NAME)
  const name =
    named >= 0 && texts[named]!.share > NEARLY_ALL
      ? named
      : texts.findIndex(({ share, changes }) => share > NEARLY_ALL && changes > CHANGES)
  if (name < 0) return null
  // A state in words beside other columns is a channel of a wide table: there the words stay for a while.
  if (texts[name]!.distinct < 2 || (named < 0 && texts[name]!.distinct < FEWEST_NAMES)) return null
  const unit = at(UNIT) >= 0 ? at(UNIT) : header.findIndex((_, c) => c !== name && onlyUnits(head, c))
  const stated = at(VALUE)
  const numeric = header.flatMap((title, c) =>
    c !== name &&
    c !== unit &&
    texts[c]!.share < MOSTLY &&
    !/time|zeit|date|stamp|^t$|tijd|tiempo|tempo|^tid/i.test(title)
      ? [c]
      : [],
  )
  const value =
    stated >= 0 ? stated : numeric.length === 1 && header.length <= PLAIN_COLUMNS ? numeric[0]! : -1
  if (value < 0 || value === name) return null
  if (named < 0 && stated < 0) return null
  return { name, value, unit }
}

/** Share of fields that are words, how many different ones, and how often the next row has another. */
function wordsIn(head: CsvHead, c: number): { share: number; distinct: number; changes: number } {
  let words = 0
  let changes = 0
  const seen = new Set<string>()
  head.sample.forEach((row, at) => {
    const text = (row[c] ?? '').trim()
    if (text === '' || isTimeText(text) || readField(text, head.decimal, NONE).kind !== 'text') return
    words++
    seen.add(text)
    if (at > 0 && head.sample[at - 1]![c] !== row[c]) changes++
  })
  return { share: words / head.sample.length, distinct: seen.size, changes: changes / head.sample.length }
}

function onlyUnits(head: CsvHead, c: number): boolean {
  const said = head.sample.map((row) => (row[c] ?? '').trim()).filter((text) => text !== '')
  return said.length > 0 && said.every((text) => isUnit(text) && Number.isNaN(Number(text)))
}

/** Reads a row-a-sample table: read as a wide table of time, name, value and unit, then parted by name. */
export async function readLongCsv(
  log: LogSource,
  options: { readonly progress?: (share: number) => void; readonly reader?: Reader } = {},
): Promise<RawLog> {
  const head = readCsvHead(log.head, log.name)
  const columns = longColumns(head)!
  const plan = planTime(head, log.name, new Set([columns.name, columns.value, columns.unit]))
  const table = await readTable(log, head, plan, options)
  const { store } = table
  if (store.rows === 0)
    throw new LogError(
      'no-rows',
      `${log.name}: no row after line ${head.headerLine} could be read; time, name and value were expected.`,
    )
  const stored = store.finish(head.header, new Set([columns.value]))
  const samples = rowsByName(store.rowsOf(columns.name), stored[columns.name]!, store.rows)
  const values = cellsOf(store.rowsOf(columns.value), stored[columns.value]!, store.rows)
  const units =
    columns.unit < 0 ? null : cellsOf(store.rowsOf(columns.unit), stored[columns.unit]!, store.rows)
  const lineOf = (row: number): number => store.lines[row]!
  const time = timeOf(store.stamps.subarray(0, store.rows), samples, plan, table.zone, head, lineOf)
  const skipped: Skipped[] = [...table.skipped, ...time.skipped]
  const series: RawSeries[] = []
  const known: Float64Array[] = []
  for (const [name, rows] of samples) {
    const made = seriesOf(name, rows, values, units, time.timeS, known)
    if (!made) continue
    series.push(made.series)
    if (made.odd.count > 0)
      skipped.push({
        what: `"${name}": text in a number field`,
        count: made.odd.count,
        first: `line ${lineOf(made.odd.row)}`,
      })
  }
  if (series.every((each) => each.labels !== null))
    throw new LogError(
      'no-numbers',
      `${log.name}: no value after line ${head.headerLine} is a number; a log of values was expected.`,
    )
  return {
    name: log.name,
    sha256: await log.sha256(),
    layout: log.packed ? 'long CSV, gzip' : 'long CSV',
    rows: store.rows,
    skipped,
    series,
    startedAt: time.startedAt,
    fingerprint: `long|${[...samples.keys()].sort().join('|')}`,
    bus: null,
    events: [],
    clockSteps: time.steps,
    notes: time.notes,
  }
}

/** One column again by row: a number, or a text where it held text. */
interface Cells {
  readonly numbers: Float64Array
  /** Index into `labels`, −1 for none. */
  readonly texts: Int32Array | null
  readonly labels: readonly string[]
}

function cellsOf(has: Uint8Array | null, column: StoredColumn, rows: number): Cells {
  const numbers = new Float64Array(rows).fill(Number.NaN)
  const texts = column.labels || column.textAt.length > 0 ? new Int32Array(rows).fill(-1) : null
  for (let row = 0, sample = 0, text = 0; row < rows; row++) {
    if (has && !has[row]) continue
    if (column.labels) {
      if (!Number.isNaN(column.values[sample])) texts![row] = column.values[sample]!
    } else if (column.textAt[text] === sample) {
      texts![row] = column.textId[text]!
      text++
    } else numbers[row] = column.values[sample]!
    sample++
  }
  return { numbers, texts, labels: column.labels ?? column.texts }
}

/** Rows of each name, in order of the file; names in order of their first row. */
function rowsByName(has: Uint8Array | null, column: StoredColumn, rows: number): Map<string, Int32Array> {
  const labels = column.labels ?? []
  const counts = new Int32Array(labels.length)
  for (let i = 0; i < column.values.length; i++)
    if (!Number.isNaN(column.values[i])) counts[column.values[i]!]!++
  const lists = labels.map((_, id) => new Int32Array(counts[id]!))
  const filled = new Int32Array(labels.length)
  for (let row = 0, sample = 0; row < rows; row++) {
    if (has && !has[row]) continue
    const id = column.values[sample++]!
    if (!Number.isNaN(id)) lists[id]![filled[id]!++] = row
  }
  return new Map(
    labels.map((label, id) => [label, lists[id]!] as const).filter(([, list]) => list.length > 0),
  )
}

/**
 * Rows in order of time share stamps; a file sorted by name starts its time anew at each name: then each name's
 * rows rise by themselves and no clock stepped.
 */
function timeOf(
  stamps: Float64Array,
  samples: ReadonlyMap<string, Int32Array>,
  plan: TimePlan,
  zone: string | null,
  head: CsvHead,
  lineOf: (row: number) => number,
): ReturnType<typeof logTime> {
  let falls = 0
  for (let i = 1; i < stamps.length; i++) if (stamps[i]! < stamps[i - 1]!) falls++
  const about = { sharedStamps: true, zone, preamble: head.preamble, lineOf }
  if (falls === 0 || falls > samples.size + 5) return logTime(stamps, plan, about)
  const order = Int32Array.from(stamps.keys()).sort((a, b) => stamps[a]! - stamps[b]! || a - b)
  const rising = [...samples.values()].every((rows) =>
    rows.every((row, at) => at === 0 || stamps[row]! >= stamps[rows[at - 1]!]!),
  )
  if (!rising) return logTime(stamps, plan, about)
  const time = logTime(
    stamps.slice().map((_, at) => stamps[order[at]!]!),
    plan,
    about,
  )
  const timeS = new Float64Array(stamps.length)
  order.forEach((row, at) => {
    timeS[row] = time.timeS[at]!
  })
  return { ...time, timeS }
}

function seriesOf(
  name: string,
  rows: Int32Array,
  cells: Cells,
  units: Cells | null,
  timeS: Float64Array,
  known: Float64Array[],
): { series: RawSeries; odd: { count: number; row: number } } | null {
  const times = new Float64Array(rows.length)
  const values = new Float64Array(rows.length)
  const ids = new Map<number, number>()
  let [n, texts, oddRow] = [0, 0, 0]
  let unit: string | null = null
  const textual =
    cells.texts !== null && rows.filter((row) => cells.texts![row]! >= 0).length > rows.length / 2
  for (const row of rows) {
    if (Number.isNaN(timeS[row])) continue
    const text = cells.texts ? cells.texts[row]! : -1
    const number = cells.numbers[row]!
    if (text < 0 && Number.isNaN(number) && !textual) continue
    if (unit === null && units?.texts && units.texts[row]! >= 0)
      unit = units.labels[units.texts[row]!] ?? null
    times[n] = timeS[row]!
    if (textual) {
      const key = text >= 0 ? text : -1
      if (key >= 0 && !ids.has(key)) ids.set(key, ids.size)
      values[n] = key >= 0 ? ids.get(key)! : Number.NaN
    } else {
      values[n] = number
      if (text >= 0 && texts++ === 0) oddRow = row
    }
    n++
  }
  if (n === 0) return null
  const own = times.subarray(0, n)
  let timeArray = known.find((each) => sameTimes(each, own))
  if (!timeArray) {
    timeArray = own.slice()
    known.push(timeArray)
  }
  return {
    series: {
      name,
      unit: unit ?? headerUnit(name),
      channel: null,
      timeS: timeArray,
      values: values.subarray(0, n),
      fresh: null,
      labels: textual ? [...ids.keys()].map((id) => cells.labels[id]!) : null,
      node: null,
    },
    odd: { count: texts, row: oddRow },
  }
}

function sameTimes(a: Float64Array, b: Float64Array): boolean {
  if (a.length !== b.length || a[0] !== b[0] || a[a.length - 1] !== b[b.length - 1]) return false
  for (let i = 0; i < a.length; i++) if (a[i] !== b[i]) return false
  return true
}
