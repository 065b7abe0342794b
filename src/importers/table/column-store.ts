import type { Skipped } from '../../../shared/drive.ts'
import { ColumnOddities } from './column-oddities.ts'
import { readField } from './field-text.ts'
import { RowPatterns } from './row-patterns.ts'

/** One column as collected: numbers, and texts where there were any. */
export interface StoredColumn {
  readonly values: Float64Array
  readonly labels: readonly string[] | null
  /** Unit written beside the values (`3.998 V`); null where none was. */
  readonly unit: string | null
  /** Of the rows this column has samples in: columns with one group share their times. */
  readonly group: number
  readonly skipped: readonly Skipped[]
  /** Texts that stand among the numbers of a column kept mixed: sample and index into `texts`; else empty. */
  readonly textAt: readonly number[]
  readonly textId: readonly number[]
  readonly texts: readonly string[]
}

/**
 * Collects a table column by column: each has its own numbers, only where it had a field (an empty field takes no
 * memory). Both readers, the byte scanner and csv-parse, fill it and so give the same columns.
 *
 *     row   a  b
 *     0     1  5
 *     1     2           a: 1 2 3
 *     2     3  6        b: 5 6
 *
 * The columns' arrays are as long as `capacity` from the start: memory that is never written is never taken.
 */
export class ColumnStore {
  readonly width: number
  readonly columns: Float64Array[]
  /** Samples so far, per column. */
  readonly filled: Int32Array
  stamps: Float64Array
  lines: Uint32Array
  rows = 0
  /** The current row, kept by whoever writes into `columns`: how many samples it has, and in which columns, rising. */
  rowSamples = 0
  readonly rowColumns: Int32Array
  /** Fields of the current row past the last column that hold something. */
  rowExtra = 0
  private capacity: number
  private readonly patterns: RowPatterns
  private readonly oddities: (ColumnOddities | null)[]
  /** Columns with something odd in the current row. */
  private readonly oddInRow: ColumnOddities[] = []
  private readonly decimals: readonly ('.' | ',')[]
  private readonly emptyWords: ReadonlySet<string>

  /** @param timeColumns how many columns hold the time and go elsewhere */
  constructor(
    decimals: readonly ('.' | ',')[],
    emptyWords: ReadonlySet<string>,
    timeColumns: number,
    capacity: number,
  ) {
    this.width = decimals.length
    this.decimals = decimals
    this.emptyWords = emptyWords
    this.capacity = Math.max(16, capacity)
    this.columns = columnsOf(this.width, this.capacity)
    this.filled = new Int32Array(this.width)
    this.rowColumns = new Int32Array(this.width)
    this.stamps = new Float64Array(this.capacity)
    this.lines = new Uint32Array(this.capacity)
    this.patterns = new RowPatterns(this.width, this.width - timeColumns, this.capacity)
    this.oddities = new Array<ColumnOddities | null>(this.width).fill(null)
  }

  /** A field that is not plainly a number. @param line for the counts */
  put(c: number, text: string, line: number): void {
    if (c >= this.width) {
      // Counted only: a row with something past the last column is left out.
      if (text.trim() !== '') this.rowExtra++
      return
    }
    const field = readField(text, this.decimals[c]!, this.emptyWords)
    if (field.kind === 'empty') return
    const at = this.filled[c]!++
    this.rowColumns[this.rowSamples++] = c
    this.columns[c]![at] = field.kind === 'number' ? field.value : Number.NaN
    if (field.kind === 'number' && !field.unit && !field.thousands && !field.bound) return
    const odd = this.oddities[c] ?? new ColumnOddities()
    this.oddities[c] = odd
    this.oddInRow.push(odd)
    odd.note(at, field, line, text.trim())
  }

  /** Starts a row: everything may be taken back to here by `undoRow`. */
  startRow(): void {
    if (this.rows >= this.capacity) this.grow()
    this.rowSamples = 0
    this.rowExtra = 0
    for (let odd = this.oddInRow.pop(); odd; odd = this.oddInRow.pop()) odd.keepRow()
  }

  undoRow(): void {
    for (let odd = this.oddInRow.pop(); odd; odd = this.oddInRow.pop()) odd.undoRow()
    for (let i = 0; i < this.rowSamples; i++) this.filled[this.rowColumns[i]!]!--
    this.rowSamples = 0
  }

  endRow(stamp: number, line: number): void {
    const { rows } = this
    this.stamps[rows] = stamp
    this.lines[rows] = line
    this.patterns.add(rows, this.rowColumns, this.rowSamples)
    this.rows = rows + 1
  }

  /** Samples of all columns so far. */
  samples(): number {
    return this.filled.reduce((sum, count) => sum + count, 0)
  }

  private grow(): void {
    this.capacity = Math.ceil(this.capacity * 1.6) + 1024
    for (let c = 0; c < this.width; c++)
      this.columns[c] = lengthened(this.columns[c]!, this.filled[c]!, this.capacity)
    this.stamps = lengthened(this.stamps, this.rows, this.capacity)
    const lines = new Uint32Array(this.capacity)
    lines.set(this.lines.subarray(0, this.rows))
    this.lines = lines
    this.patterns.grow(this.capacity)
  }

  /**
   * The columns, exact in length, with texts resolved: a column of words becomes labels.
   * @param mixed columns in which words and numbers stand for different channels: left as they are
   */
  finish(names: readonly string[], mixed: ReadonlySet<number> = new Set()): StoredColumn[] {
    const groups = this.patterns.groups()
    return names.map((name, c) => {
      const values = this.columns[c]!.subarray(0, this.filled[c]!)
      const odd = this.oddities[c]
      const keep = mixed.has(c)
      const asText = odd !== null && odd !== undefined && !keep && odd.isText(values.length)
      return {
        values,
        labels: asText ? odd.toLabels(values) : null,
        unit: odd?.unit ?? null,
        group: groups[c]!,
        skipped: odd?.skipped(name, asText, keep) ?? [],
        textAt: keep && odd ? odd.textAt : [],
        textId: keep && odd ? odd.textId : [],
        texts: keep && odd ? [...odd.labels.keys()] : [],
      }
    })
  }

  /** Rows in which a column has samples, as a row → yes/no look-up; null where it has them in all. */
  rowsOf(c: number): Uint8Array | null {
    return this.filled[c] === this.rows ? null : this.patterns.rowsOf(c, this.rows)
  }
}

/** One piece of memory for all: many pieces of this size have the collector run for each. */
function columnsOf(count: number, capacity: number): Float64Array[] {
  const memory = new ArrayBuffer(8 * count * capacity)
  return Array.from({ length: count }, (_, c) => new Float64Array(memory, 8 * c * capacity, capacity))
}

function lengthened(values: Float64Array, used: number, capacity: number): Float64Array {
  const longer = new Float64Array(capacity)
  longer.set(values.subarray(0, used))
  return longer
}
