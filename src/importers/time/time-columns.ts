import { conversionTo } from '../../../shared/units.ts'
import { LogError } from '../../errors.ts'
import type { CsvHead } from '../table/csv-head.ts'
import { readField } from '../table/field-text.ts'
import { type DayOrder, dayOrder, readTimeText, type TimeKind } from './time-text.ts'

/** A time rises at so many rows at least, damaged ones aside; no source. */
const RISING_SHARE = 0.8
/** Seconds since 1970 from 1995 on, and up to 2286: no drive's own time is so long. */
const EPOCH_FROM_S = 8e8
/** See above. */
const EPOCH_TO_S = 1e10
/** Days since 1899-12-30, as spreadsheets count: 1954 to 2119. */
const DAYS_FROM = 20_000
/** See above. */
const DAYS_TO = 80_000
/** A quarter of an hour: no log is slower. */
const MOST_STEP_DAYS = 0.01
/** Whole numbers that step so far count microseconds; no source. */
const MICROSECONDS_FROM = 5000
/** Whole numbers that step so far count milliseconds: a log is faster than one row in 5 s; no source. */
const MILLISECONDS_FROM = 5
/** A hexadecimal counter of fewer digits would wrap within a drive. */
const HEX_DIGITS = 4
/** Fewer stamps show no spacing. */
const FEWEST_STAMPS = 3

/** Where a table's time stands and how it is written. */
export interface TimePlan {
  /** Column of the time; −1 where rows come at a stated rate and carry none. */
  readonly column: number
  /** A date in a column of its own beside a clock time; −1 where there is none. */
  readonly dateColumn: number
  readonly kind: 'number' | 'hex' | 'serial-days' | 'row' | TimeKind
  /** Numbers: seconds = number · times / over. */
  readonly times: number
  readonly over: number
  /** Numbers counted from 1970: a wall clock. */
  readonly epoch: boolean
  readonly order: DayOrder
  /** Other columns that tell the time of the row: no channels. */
  readonly beside: readonly number[]
  /** First stamp of a column beside that carries the date, as written; null where none does. */
  readonly startText: string | null
  /** What was assumed about the time, in a sentence; null where the log says it all. */
  readonly assumed: string | null
}

const NAMED =
  /^(up|boot|rec|rel(ative)?|abs(olute)?|elapsed|log|sample|record(ing)?|run|system|sys|measurement|mess|utc|local|gps|unix|epoch|start)?[\s_.-]*(time[\s_.-]?stamps?|date[\s_.-]?time|time|zeit(stempel)?|uhrzeit|temps|heure|clock|date|datum|ts|t|epoch|unix|seconds?|secs?|millis(econds)?|msec|elapsed|tick(s|count)?|horodatage)([\s_.-]*(boot|stamp|rel(ative)?|abs(olute)?|elapsed|utc|local|since[\s_]?start|epoch|unix))*$/i

/** The same in other languages; `tempo` is speed in German, so that it counts only without a unit or with one of time. */
const NAMED_ELSEWHERE =
  /^(tiempo|tijd(stip|stempel)?|tid(spunkt)?|hora|ora|istante|instante|klockslag|klokke(slett|slæt)|czas|godzina|fecha([\s_.-]*hora)?|data[\s_.-]*ora|marca de tiempo|tempo)$/i
const NO_TIME = /^(?!(s|sec|ms|µs|us|min|h)$)./i

/** A count written in hexadecimal. */
const HEX_COUNT = /^(0x)?[0-9a-f]{1,13}$/i

/** The count that a hexadecimal field stands for; NaN where it is none. */
export const hexCount = (text: string): number =>
  HEX_COUNT.test(text) ? Number.parseInt(text, 16) : Number.NaN

/** A number of rows is no time. */
const COUNTER = /^(#|no\.?|nr\.?|number|index|idx|row|sample|samples|record|line|id|count(er)?)$/i

interface Candidate {
  readonly column: number
  readonly named: boolean
  readonly kind: 'number' | 'hex' | TimeKind
  readonly values: readonly number[]
  /** Share of neighbouring rows that do not go back. */
  readonly rising: number
  readonly changing: number
}

/**
 * @param skip columns that cannot be the time (name, value and unit of a long table)
 * @throws LogError where nothing tells the time of a row
 */
export function planTime(head: CsvHead, logName: string, skip: ReadonlySet<number> = new Set()): TimePlan {
  const candidates = head.header.flatMap((_, c) => (skip.has(c) ? [] : candidate(head, c)))
  const best = candidates
    .filter((each) => each.named || each.kind === 'stamp' || each.kind === 'clock' || each.kind === 'minutes')
    .filter((each) => each.rising >= RISING_SHARE && each.kind !== 'date')
    .sort((a, b) => worth(b) - worth(a))[0]
  if (best) {
    const date =
      best.kind === 'clock'
        ? candidates.find((each) => each.kind === 'date' && each.column !== best.column)
        : undefined
    return withOthers(planOf(head, best, date?.column ?? -1), head, candidates)
  }
  const rate = statedRate(head.preamble)
  if (rate !== null)
    return {
      ...ROW,
      times: 1 / rate,
      assumed: `No column tells the time; rows are taken at the ${Number(rate.toPrecision(6))} Hz that the preamble states.`,
    }
  // Without a name: a leading column that rises in even steps.
  const counter = candidates.find(
    (each) =>
      each.kind === 'number' &&
      !COUNTER.test(head.header[each.column]!) &&
      !countsRows(head.header[each.column]!, each.values) &&
      each.column <= 1 &&
      each.rising === 1 &&
      each.changing === 1 &&
      evenSteps(each.values),
  )
  if (counter) {
    const plan = planOf(head, counter, -1)
    const text = `"${head.header[counter.column]}" was taken as the time, since it rises in even steps.`
    return { ...plan, assumed: plan.assumed ? `${text} ${plan.assumed}` : text }
  }
  const counts = candidates.find((each) => countsRows(head.header[each.column]!, each.values))
  const step = counts
    ? '; its first column only counts rows: where the rows come at a steady rate, write it above the header ("Sample rate: 10 Hz")'
    : ''
  throw new LogError(
    'no-time',
    `${logName}: line ${head.headerLine} names no time column (found ${head.header
      .slice(0, 4)
      .map((name) => `"${name}"`)
      .join(
        ', ',
      )}${head.header.length > 4 ? ', …' : ''}); a column named time, timestamp or the like was expected${step}.`,
  )
}

/** Stamps, dates and clock times beside the chosen column are told apart from channels; one may give the date. */
function withOthers(plan: TimePlan, head: CsvHead, candidates: readonly Candidate[]): TimePlan {
  const others = candidates.filter(
    ({ column, kind }) =>
      kind !== 'number' && kind !== 'hex' && column !== plan.column && column !== plan.dateColumn,
  )
  const dated =
    plan.epoch || plan.kind === 'stamp' || plan.dateColumn >= 0
      ? undefined
      : others.find(({ kind }) => kind === 'stamp')
  return {
    ...plan,
    beside: others.map(({ column }) => column),
    startText: dated ? (head.sample[0]?.[dated.column] ?? null) : null,
  }
}

const ROW: TimePlan = {
  column: -1,
  dateColumn: -1,
  kind: 'row',
  times: 1,
  over: 1,
  epoch: false,
  order: 'dmy',
  beside: [],
  startText: null,
  assumed: null,
}

function candidate(head: CsvHead, c: number): Candidate[] {
  const name = plainName(head.header[c]!)
  const named = NAMED.test(name) || (NAMED_ELSEWHERE.test(name) && !NO_TIME.test(head.units[c] ?? ''))
  const texts = head.sample.map((row) => row[c] ?? '').filter((text) => text.trim() !== '')
  if (texts.length === 0) return []
  const order = dayOrder(texts)
  const kinds = new Map<TimeKind, number>()
  for (const text of texts) {
    const read = readTimeText(text, order)
    if (read) kinds.set(read.kind, (kinds.get(read.kind) ?? 0) + 1)
  }
  const [kind, count] = [...kinds.entries()].sort((a, b) => b[1] - a[1])[0] ?? [null, 0]
  const asText = kind !== null && count >= 0.8 * texts.length
  const hex = !asText && isHexColumn(texts)
  const values = texts.map((text) => {
    if (hex) return hexCount(text)
    if (asText) return readTimeText(text, order)?.seconds ?? Number.NaN
    const field = readField(text, head.decimals[c]!, head.emptyWords)
    return field.kind === 'number' ? field.value : Number.NaN
  })
  const good = values.filter((value) => !Number.isNaN(value))
  if (good.length < 0.6 * texts.length) return []
  let rising = 0
  let changing = 0
  for (let i = 1; i < good.length; i++) {
    if (good[i]! >= good[i - 1]!) rising++
    if (good[i]! > good[i - 1]!) changing++
  }
  const pairs = good.length - 1
  return [
    {
      column: c,
      named,
      kind: hex ? 'hex' : asText ? kind! : 'number',
      values: good,
      rising: pairs > 0 ? rising / pairs : 1,
      changing: pairs > 0 ? changing / pairs : 1,
    },
  ]
}

/** Name without unit and brackets: `Time [s]`, `time_ms`, `t (s)` → `time`, `t`. */
function plainName(header: string): string {
  return header
    .replace(/[[({<].*$/, '')
    .replace(/([a-z])([A-Z])/g, '$1_$2')
    .trim()
    .replace(/[\s_.\-,]+(in[\s_]+)?(s|sec|seconds?|ms|msec|milliseconds?|us|µs|ns|min|h)$/i, '')
    .trim()
}

/** Named beats unnamed; a full stamp beats a bare number; the leftmost of equals. */
function worth(each: Candidate): number {
  return (
    (each.named ? 4 : 0) +
    (each.kind === 'stamp' ? 1 : 0) +
    // A finer number beside a coarse clock (one stamp for ten rows) tells more.
    2 * each.changing -
    each.column * 1e-3
  )
}

function planOf(head: CsvHead, best: Candidate, dateColumn: number): TimePlan {
  const texts = head.sample.map((row) => row[dateColumn >= 0 ? dateColumn : best.column] ?? '')
  const plan: TimePlan = { ...ROW, column: best.column, dateColumn, kind: best.kind, order: dayOrder(texts) }
  if (best.kind === 'minutes')
    return { ...plan, assumed: 'Times carry no hours (mm:ss); each passing of 60:00 was taken as one hour.' }
  if (best.kind !== 'number' && best.kind !== 'hex') return plan
  const stated = statedTimeUnit(head, best.column) ?? fieldUnit(head, best.column)
  const { values } = best
  const first = values[0]!
  if (!stated || stated === 1) {
    for (const [least, over] of [
      [1e17, 1e9],
      [1e14, 1e6],
      [1e11, 1e3],
      [8e8, 1],
    ] as const)
      if (first >= least && first < least * 30) return { ...plan, over, epoch: true }
  } else if (first * stated > EPOCH_FROM_S && first * stated < EPOCH_TO_S)
    return withFactor({ ...plan, epoch: true }, stated)
  if (stated) return withFactor(plan, stated)
  const step = medianStep(values)
  if (first > DAYS_FROM && first < DAYS_TO && step < MOST_STEP_DAYS && step > 0)
    return {
      ...plan,
      kind: 'serial-days',
      times: 86400,
      epoch: true,
      assumed: "Times are a spreadsheet's day numbers; they were turned into seconds.",
    }
  const whole = values.every(Number.isInteger)
  if (whole && step >= MICROSECONDS_FROM)
    return {
      ...plan,
      over: 1e6,
      assumed: `The time's unit is not stated; steps of ${step} were taken as microseconds.`,
    }
  if (whole && step >= MILLISECONDS_FROM)
    return {
      ...plan,
      over: 1e3,
      assumed: `The time's unit is not stated; steps of ${step} were taken as milliseconds.`,
    }
  return plan
}

function withFactor(plan: TimePlan, factor: number): TimePlan {
  const under = Math.round(1 / factor)
  return factor < 1 && Math.abs(1 / factor - under) < 1e-6 * under
    ? { ...plan, over: under }
    : { ...plan, times: factor }
}

/** Seconds per unit as the header says; null where it does not. */
function statedTimeUnit(head: CsvHead, c: number): number | null {
  const unit = head.units[c]
  const by = unit ? conversionTo(unit, 's') : null
  if (by) return by.factor
  const word =
    /(?:^|[\s_.\-(])(ms|msec|millis(?:econds)?|us|µs|micros(?:econds)?|ns|s|sec|seconds?)\)?$/i.exec(
      head.header[c]!.replace(/([a-z])([A-Z])/g, '$1_$2'),
    )?.[1]
  const fromName = word
    ? conversionTo(word.replace(/^millis.*$/i, 'ms').replace(/^micros.*$/i, 'us'), 's')
    : null
  return fromName?.factor ?? null
}

/** The unit behind every number: `1.8173 sec`. */
function fieldUnit(head: CsvHead, c: number): number | null {
  const units = new Set<string>()
  for (const row of head.sample) {
    const field = readField(row[c] ?? '', head.decimals[c]!, head.emptyWords)
    if (field.kind === 'number') units.add(field.unit ?? '')
  }
  const [unit] = units
  return units.size === 1 && unit ? (conversionTo(unit, 's')?.factor ?? null) : null
}

/** A counter in hexadecimal: `0x000003E8`, or `000003E8` where all are as wide and some hold a letter. */
function isHexColumn(texts: readonly string[]): boolean {
  const plain = texts.map((text) => text.trim())
  if (!plain.every((text) => HEX_COUNT.test(text))) return false
  if (plain.every((text) => /^0x/i.test(text))) return true
  return (
    new Set(plain.map((text) => text.length)).size === 1 &&
    plain[0]!.length >= HEX_DIGITS &&
    plain.some((text) => /[a-df]/i.test(text)) &&
    !plain.every((text) => /^\d+e\d+$/i.test(text))
  )
}

function medianStep(values: readonly number[]): number {
  const steps = values
    .slice(1)
    .map((value, at) => value - values[at]!)
    .filter((step) => step > 0)
    .sort((a, b) => a - b)
  return steps[steps.length >> 1] ?? 0
}

/** A first column without a name that goes up by one a row only counts them. */
const countsRows = (name: string, values: readonly number[]): boolean =>
  /^(column \d+|unnamed.*)$/i.test(name) && values.every((value, at) => value === values[0]! + at)

function evenSteps(values: readonly number[]): boolean {
  const step = medianStep(values)
  let even = 0
  for (let i = 1; i < values.length; i++)
    if (Math.abs(values[i]! - values[i - 1]! - step) <= 0.2 * step) even++
  return values.length >= FEWEST_STAMPS && step > 0 && even >= 0.9 * (values.length - 1)
}

/** `Sample rate: 10 Hz`, `interval = 0.1 s` above the header. */
function statedRate(preamble: readonly string[]): number | null {
  for (const line of preamble) {
    const hertz =
      /(?:rate|frequency|abtastrate|frequenz)\D{0,20}?([\d.,]+)\s*(k?hz|\/s|1\/s|per second|samples?\/s)/i.exec(
        line,
      )
    if (hertz) return Number(hertz[1]!.replace(',', '.')) * (/^k/i.test(hertz[2]!) ? 1000 : 1)
    const period = /(?:interval|period|sample time|step|intervall)\D{0,20}?([\d.,]+)\s*(ms|s)\b/i.exec(line)
    if (period) return (period[2]!.toLowerCase() === 'ms' ? 1000 : 1) / Number(period[1]!.replace(',', '.'))
  }
  return null
}
