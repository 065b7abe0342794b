import type { Skipped } from '../../shared/drive.ts'
import { type Field, readField } from './field-text.ts'

/** More different texts than this in one column are remarks, not states. */
const MOST_LABELS = 1000

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

/** What is odd about one column, counted. */
interface Oddities {
  /** Sample index and label index of each text. */
  readonly textAt: number[]
  readonly textId: number[]
  readonly labels: Map<string, number>
  unit: string | null
  readonly counts: Map<string, { count: number; line: number; example: string }>
}

/**
 * Collects a table column by column: each has its own numbers, only where it had a field (an empty field takes no
 * memory). Both readers, the byte scanner and csv-parse, fill it and so give the same columns.
 *
 *     row   a  b        patterns   0: a b    1: a
 *     0     1  5        patternOf  0 1 0
 *     1     2           a: 1 2 3   b: 5 6
 *     2     3  6
 *
 * The columns' arrays are as long as `capacity` from the start: memory that is never written is never taken.
 */
export class ColumnStore {
  readonly width: number
  /** One more than `width`: fields past the last column fall into the spare one. */
  readonly columns: Float64Array[]
  /** Samples so far, per column; one more than `width`. */
  readonly filled: Int32Array
  /** `filled` at the start of the current row. */
  readonly before: Int32Array
  stamps: Float64Array
  lines: Uint32Array
  rows = 0
  /** Samples of the current row, kept by whoever writes them. */
  rowSamples = 0
  /** Pattern of a row with a sample in every column but time and date; −1 until one was seen. */
  private fullPattern = -1
  private readonly fullSamples: number
  private capacity: number
  private patternOf: Uint32Array
  private readonly patterns: Uint8Array[] = []
  private readonly patternIds = new Map<string, number>()
  private readonly recent: number[] = []
  private readonly oddities: (Oddities | null)[]
  /** What the current row added to oddities, to be taken back with the row. */
  private readonly noted: { odd: Oddities; label: string | null; what: string | null }[] = []
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
    this.fullSamples = this.width - timeColumns
    this.decimals = decimals
    this.emptyWords = emptyWords
    this.capacity = Math.max(16, capacity)
    this.columns = Array.from({ length: this.width + 1 }, () => new Float64Array(this.capacity))
    this.filled = new Int32Array(this.width + 1)
    this.before = new Int32Array(this.width + 1)
    this.stamps = new Float64Array(this.capacity)
    this.lines = new Uint32Array(this.capacity)
    this.patternOf = new Uint32Array(this.capacity)
    this.oddities = new Array<Oddities | null>(this.width).fill(null)
  }

  /** A field that is not plainly a number. @param line for the counts */
  put(c: number, text: string, line: number): void {
    if (c >= this.width) {
      // Counted only: a row with something past the last column is left out.
      if (text.trim() !== '') this.filled[this.width]!++
      return
    }
    const field = readField(text, this.decimals[c]!, this.emptyWords)
    if (field.kind === 'empty') return
    const at = this.filled[c]!++
    this.rowSamples++
    this.columns[c]![at] = field.kind === 'number' ? field.value : Number.NaN
    if (field.kind !== 'number' || field.unit || field.thousands) this.note(c, at, field, line, text.trim())
  }

  private note(c: number, at: number, field: Field, line: number, text: string): void {
    let odd = this.oddities[c]
    if (!odd) {
      odd = { textAt: [], textId: [], labels: new Map(), unit: null, counts: new Map() }
      this.oddities[c] = odd
    }
    if (field.kind === 'text') {
      let id = odd.labels.get(field.text)
      if (id === undefined && odd.labels.size < MOST_LABELS) {
        id = odd.labels.size
        odd.labels.set(field.text, id)
        this.noted.push({ odd, label: field.text, what: null })
      }
      odd.textAt.push(at)
      odd.textId.push(id ?? -1)
      this.tell(odd, 'text', line, text)
    } else if (field.kind === 'damaged') this.tell(odd, field.how, line, text)
    else if (field.kind === 'missing') this.tell(odd, 'missing', line, text)
    else if (field.kind === 'number') {
      if (field.unit) odd.unit ??= field.unit
      if (field.thousands) this.tell(odd, 'thousands', line, text)
    }
  }

  private tell(odd: Oddities, what: string, line: number, example: string): void {
    const seen = odd.counts.get(what)
    if (seen) seen.count++
    else odd.counts.set(what, { count: 1, line, example })
    this.noted.push({ odd, label: null, what })
  }

  /** Starts a row: `filled` may be taken back to here by `undoRow`. */
  startRow(): void {
    if (this.rows >= this.capacity) this.grow()
    this.before.set(this.filled)
    this.rowSamples = 0
    if (this.noted.length > 0) this.noted.length = 0
  }

  undoRow(): void {
    for (let c = 0; c < this.width; c++) {
      const odd = this.oddities[c]
      if (!odd || this.filled[c] === this.before[c]) continue
      const kept = this.before[c]!
      while (odd.textAt.length > 0 && odd.textAt[odd.textAt.length - 1]! >= kept) {
        odd.textAt.pop()
        odd.textId.pop()
      }
    }
    for (const { odd, label, what } of this.noted.reverse()) {
      if (label !== null) odd.labels.delete(label)
      const seen = what === null ? undefined : odd.counts.get(what)
      if (seen && --seen.count === 0) odd.counts.delete(what!)
    }
    this.noted.length = 0
    this.filled.set(this.before)
  }

  endRow(stamp: number, line: number): void {
    const { rows } = this
    this.stamps[rows] = stamp
    this.lines[rows] = line
    this.patternOf[rows] = this.patternOfRow()
    this.rows = rows + 1
  }

  private patternOfRow(): number {
    const { recent } = this
    // Every column at most once a row: as many samples as columns is all of them.
    const full = this.rowSamples === this.fullSamples
    if (full && this.fullPattern >= 0) return this.fullPattern
    for (let r = 0; r < recent.length; r++) {
      const id = recent[r]!
      if (!this.rowHas(this.patterns[id]!)) continue
      if (r > 0) {
        recent.splice(r, 1)
        recent.unshift(id)
      }
      return id
    }
    const pattern = new Uint8Array(this.width)
    for (let c = 0; c < this.width; c++) pattern[c] = this.filled[c]! - this.before[c]!
    const key = String.fromCharCode(...packBits(pattern))
    let id = this.patternIds.get(key)
    if (id === undefined) {
      id = this.patterns.length
      this.patterns.push(pattern)
      this.patternIds.set(key, id)
    }
    recent.unshift(id)
    if (recent.length > 8) recent.pop()
    if (full) this.fullPattern = id
    return id
  }

  private rowHas(pattern: Uint8Array): boolean {
    const { filled, before, width } = this
    for (let c = 0; c < width; c++) if (filled[c]! - before[c]! !== pattern[c]) return false
    return true
  }

  private grow(): void {
    this.capacity = Math.ceil(this.capacity * 1.6) + 1024
    for (let c = 0; c <= this.width; c++)
      this.columns[c] = lengthened(this.columns[c]!, this.filled[c]!, this.capacity)
    this.stamps = lengthened(this.stamps, this.rows, this.capacity)
    const lines = new Uint32Array(this.capacity)
    lines.set(this.lines.subarray(0, this.rows))
    this.lines = lines
    const patternOf = new Uint32Array(this.capacity)
    patternOf.set(this.patternOf.subarray(0, this.rows))
    this.patternOf = patternOf
  }

  /**
   * The columns, exact in length, with texts resolved: a column of words becomes labels.
   * @param mixed columns in which words and numbers stand for different channels: left as they are
   */
  finish(names: readonly string[], mixed: ReadonlySet<number> = new Set()): StoredColumn[] {
    const groups = this.groups()
    return names.map((name, c) => this.finishColumn(name, c, groups[c]!, mixed.has(c)))
  }

  /** For each column, the number of its group: columns with samples in the same rows. */
  private groups(): Int32Array {
    const { width, patterns } = this
    const ids = new Int32Array(width)
    const known = new Map<string, number>()
    for (let c = 0; c < width; c++) {
      const has = new Uint8Array(patterns.length)
      for (let p = 0; p < patterns.length; p++) has[p] = patterns[p]![c]!
      const key = patterns.length < 20_000 ? String.fromCharCode(...packBits(has)) : `${c}`
      let id = known.get(key)
      if (id === undefined) {
        id = known.size
        known.set(key, id)
      }
      ids[c] = id
    }
    return ids
  }

  /** Rows in which a column has samples, as a row → yes/no look-up; null where it has them in all. */
  rowsOf(c: number): Uint8Array | null {
    if (this.filled[c] === this.rows) return null
    const has = new Uint8Array(this.rows)
    for (let row = 0; row < this.rows; row++) has[row] = this.patterns[this.patternOf[row]!]![c]!
    return has
  }

  private finishColumn(name: string, c: number, group: number, mixed: boolean): StoredColumn {
    const values = this.columns[c]!.subarray(0, this.filled[c]!)
    const odd = this.oddities[c]
    if (!odd)
      return { values, labels: null, unit: null, group, skipped: [], textAt: [], textId: [], texts: [] }
    const skipped: Skipped[] = []
    const texts = odd.textAt.length
    const missing = odd.counts.get('missing')?.count ?? 0
    const asText = !mixed && texts > 0 && texts >= (values.length - missing) / 2
    let labels: string[] | null = null
    if (asText) labels = toLabels(values, odd)
    for (const [what, { count, line, example }] of odd.counts) {
      const first = `line ${line}: "${example.length > 40 ? `${example.slice(0, 39)}…` : example}"`
      if (what === 'text') {
        if (mixed || (asText && odd.labels.size < MOST_LABELS)) continue
        skipped.push({
          what: `"${name}": ${asText ? 'remarks' : 'text in a number field'}`,
          count: texts,
          first,
        })
      } else if (what === 'missing')
        skipped.push({ what: `"${name}": fields that say "no value"`, count, first })
      else if (what === 'thousands')
        skipped.push({ what: `"${name}": thousands marks taken out`, count, first })
      else skipped.push({ what: `"${name}": ${what}`, count, first })
    }
    return {
      values,
      labels,
      unit: odd.unit,
      group,
      skipped,
      textAt: mixed ? odd.textAt : [],
      textId: mixed ? odd.textId : [],
      texts: mixed ? [...odd.labels.keys()] : [],
    }
  }
}

/** Text column: values become indexes into its labels; stray numbers among them become labels too. */
function toLabels(values: Float64Array, odd: Oddities): string[] {
  const ids = new Map(odd.labels)
  let next = 0
  for (let i = 0; i < values.length; i++) {
    if (odd.textAt[next] === i) {
      const id = odd.textId[next]!
      values[i] = id < 0 ? Number.NaN : id
      next++
    } else if (!Number.isNaN(values[i])) {
      const text = String(values[i])
      if (!ids.has(text)) ids.set(text, ids.size)
      values[i] = ids.get(text)!
    }
  }
  return [...ids.keys()]
}

function lengthened(values: Float64Array, used: number, capacity: number): Float64Array {
  const longer = new Float64Array(capacity)
  longer.set(values.subarray(0, used))
  return longer
}

/** Eight 0/1 bytes to one. */
function packBits(bits: Uint8Array): Uint8Array {
  const packed = new Uint8Array(Math.ceil(bits.length / 8))
  for (let i = 0; i < bits.length; i++) if (bits[i]) packed[i >> 3]! |= 1 << (i & 7)
  return packed
}
