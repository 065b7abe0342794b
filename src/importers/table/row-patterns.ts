/** Patterns looked at before a row is packed. */
const REMEMBERED = 8
/** More patterns than rows of any recorder repeat. */
const MOST_PATTERNS = 20_000

/**
 * Which columns have a sample in which rows: each row has one of few patterns, so that columns read in the same rows
 * are found and share their times.
 *
 *     row   a  b        patterns   0: a b    1: a
 *     0     1  5        patternOf  0 1 0
 *     1     2
 *     2     3  6
 */
export class RowPatterns {
  private readonly width: number
  /** Samples of a row that has one in every column. */
  private readonly fullSamples: number
  private patternOf: Uint32Array
  private readonly patterns: Uint8Array[] = []
  /** Columns of each pattern. */
  private readonly columnsOf: Int32Array[] = []
  private readonly ids = new Map<string, number>()
  /** The last few patterns looked up, latest first: the next row's is nearly always among them. */
  private readonly recent: number[] = []
  private fullPattern = -1

  constructor(width: number, fullSamples: number, capacity: number) {
    this.width = width
    this.fullSamples = fullSamples
    this.patternOf = new Uint32Array(capacity)
  }

  grow(capacity: number): void {
    const longer = new Uint32Array(capacity)
    longer.set(this.patternOf)
    this.patternOf = longer
  }

  /** @param columns whose first `samples` entries are the columns in which the row has a sample, rising */
  add(row: number, columns: Int32Array, samples: number): void {
    // Every column at most once a row: as many samples as columns is all of them.
    const full = samples === this.fullSamples
    if (full && this.fullPattern >= 0) {
      this.patternOf[row] = this.fullPattern
      return
    }
    const id = this.seen(columns, samples) ?? this.learn(columns.slice(0, samples))
    if (full) this.fullPattern = id
    this.patternOf[row] = id
  }

  private seen(columns: Int32Array, samples: number): number | undefined {
    for (const id of this.recent) if (startsWith(columns, this.columnsOf[id]!, samples)) return id
    return undefined
  }

  private learn(columns: Int32Array): number {
    const pattern = new Uint8Array(this.width)
    for (const c of columns) pattern[c] = 1
    const key = packed(pattern)
    let id = this.ids.get(key)
    if (id === undefined) {
      id = this.patterns.length
      this.patterns.push(pattern)
      this.columnsOf.push(columns)
      this.ids.set(key, id)
    }
    this.recent.unshift(id)
    if (this.recent.length > REMEMBERED) this.recent.pop()
    return id
  }

  /** For each column, the number of its group: columns with samples in the same rows. */
  groups(): Int32Array {
    const { width, patterns } = this
    const groups = new Int32Array(width)
    const known = new Map<string, number>()
    for (let c = 0; c < width; c++) {
      const has = new Uint8Array(patterns.length)
      for (let p = 0; p < patterns.length; p++) has[p] = patterns[p]![c]!
      // Rows that all differ share nothing worth finding.
      const key = patterns.length < MOST_PATTERNS ? packed(has) : `${c}`
      let group = known.get(key)
      if (group === undefined) {
        group = known.size
        known.set(key, group)
      }
      groups[c] = group
    }
    return groups
  }

  /** Per row, whether a column has a sample there. */
  rowsOf(c: number, rows: number): Uint8Array {
    const { patternOf } = this
    const inPattern = Uint8Array.from(this.patterns, (pattern) => pattern[c]!)
    const has = new Uint8Array(rows)
    for (let row = 0; row < rows; row++) has[row] = inPattern[patternOf[row]!]!
    return has
  }
}

function startsWith(columns: Int32Array, pattern: Int32Array, samples: number): boolean {
  if (pattern.length !== samples) return false
  for (let i = 0; i < samples; i++) if (columns[i] !== pattern[i]) return false
  return true
}

/** 0/1 bytes as a text of their bits: a key for maps. */
function packed(bits: Uint8Array): string {
  const bytes = new Uint8Array(Math.ceil(bits.length / 8))
  for (let i = 0; i < bits.length; i++) if (bits[i]) bytes[i >> 3]! |= 1 << (i & 7)
  return String.fromCharCode(...bytes)
}
