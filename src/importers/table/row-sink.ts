import type { Skipped } from '../../../shared/drive.ts'
import { hexCount, type TimePlan } from '../time/time-columns.ts'
import { readTimeText } from '../time/time-text.ts'
import type { ColumnStore } from './column-store.ts'
import { plainNumber, readField } from './field-text.ts'

const NO_WORDS: ReadonlySet<string> = new Set()

/** Where rows go, whichever reader splits them: takes the time, judges the row, keeps or leaves it out, counted. */
export class RowSink {
  readonly store: ColumnStore
  readonly timeColumn: number
  readonly dateColumn: number
  /** The time is a number: the scanner may write `stamp` itself. */
  readonly plainTime: boolean
  /** Time of the current row as written (numbers) or in seconds (texts); NaN while unread. */
  stamp = Number.NaN
  /** Zone of the first stamp that carries one. */
  zone: string | null = null
  private dateS = Number.NaN
  private readonly plan: TimePlan
  private readonly ragged: boolean
  private readonly decimal: '.' | ','
  private readonly counts = new Map<string, { count: number; line: number }>()
  private readonly recent = { date: '', dateS: Number.NaN }

  constructor(store: ColumnStore, plan: TimePlan, ragged: boolean, decimal: '.' | ',') {
    this.store = store
    this.plan = plan
    this.ragged = ragged
    this.decimal = decimal
    this.timeColumn = plan.column
    this.dateColumn = plan.dateColumn
    this.plainTime = plan.kind === 'number' || plan.kind === 'serial-days'
  }

  startRow(): void {
    this.stamp = Number.NaN
    this.dateS = Number.NaN
  }

  /** The time or date field of the current row. */
  timeText(written: string, c: number): void {
    const text = written.trim()
    if (this.plainTime) {
      this.stamp = plainNumber(text, this.decimal) ?? this.withUnit(text)
      return
    }
    if (this.plan.kind === 'hex') {
      this.stamp = hexCount(text)
      return
    }
    if (c === this.dateColumn) {
      const { recent } = this
      if (recent.date !== text) {
        const read = readTimeText(text, this.plan.order)
        recent.date = text
        recent.dateS =
          read?.kind === 'date' || read?.kind === 'stamp'
            ? Math.floor(read.seconds / 86400) * 86400
            : Number.NaN
      }
      this.dateS = recent.dateS
      return
    }
    const read = readTimeText(text, this.plan.order)
    if (!read || read.kind !== this.plan.kind) return
    this.stamp = read.seconds
    this.zone ??= read.zone
  }

  /** `1.8173 sec` */
  private withUnit(text: string): number {
    const field = readField(text, this.decimal, NO_WORDS)
    return field.kind === 'number' ? field.value : Number.NaN
  }

  /** @param count fields of the row */
  endRow(count: number, line: number): void {
    const { store, plan } = this
    const { width } = store
    const nothing = Number.isNaN(this.stamp) && store.rowSamples + store.rowExtra === 0
    if (nothing && count <= width + 1) {
      store.undoRow()
      return
    }
    if (count > width ? store.rowExtra > 0 : count < width && !this.ragged) {
      store.undoRow()
      this.leftOut(`rows with more or fewer fields than the header's ${width}`, line)
      return
    }
    let { stamp } = this
    if (plan.kind === 'row') stamp = store.rows
    else if (this.dateColumn >= 0) stamp += this.dateS
    if (Number.isNaN(stamp)) {
      store.undoRow()
      this.leftOut('rows whose time cannot be read', line)
      return
    }
    store.endRow(stamp, line)
  }

  /** A row already split. */
  record(fields: readonly string[], line: number): void {
    const { store } = this
    store.startRow()
    this.startRow()
    for (let c = 0; c < fields.length; c++)
      if (c === this.timeColumn || c === this.dateColumn) {
        if (fields[c]!.trim() !== '') this.timeText(fields[c]!, c)
      } else store.put(c, fields[c]!, line)
    this.endRow(fields.length, line)
  }

  unclosedQuote(line: number): void {
    this.leftOut('lines with a quote that is never closed', line)
  }

  leftOut(what: string, line: number): void {
    const seen = this.counts.get(what)
    if (seen) seen.count++
    else this.counts.set(what, { count: 1, line })
  }

  skipped(): Skipped[] {
    return [...this.counts].map(([what, { count, line }]) => ({ what, count, first: `line ${line}` }))
  }
}
