import { BOUNDS } from '../../../shared/bounds.ts'
import type { Skipped } from '../../../shared/drive.ts'
import type { LogSource } from '../../bytes/file-source.ts'
import { LogError } from '../../errors.ts'
import type { TimePlan } from '../time/time-columns.ts'
import { ColumnStore } from './column-store.ts'
import type { CsvHead } from './csv-head.ts'
import { csvParse } from './csv-parser.ts'
import { SPLIT } from './csv-records.ts'
import { RowScanner, recordOptions } from './row-scanner.ts'
import { RowSink } from './row-sink.ts'
import { asciiChunks, decodeText } from './text-bytes.ts'

/** Which reader splits the rows: the byte scanner, or csv-parse alone as the reference. */
export type Reader = 'scanner' | 'csv-parse'

export interface ReadTable {
  readonly store: ColumnStore
  readonly skipped: readonly Skipped[]
  /** Zone of the first stamp that carries one. */
  readonly zone: string | null
  /** Lines read, the header's included. */
  readonly lines: number
}

const CHUNK = 1 << 20
/** No row of a log is longer; a longer one is not gathered. */
const LONGEST_LINE = 1 << 22
const SPREADSHEET_LINES = 1_048_576

/** All rows of a table into columns. Memory: the columns, one chunk and one row. */
export async function readTable(
  log: LogSource,
  head: CsvHead,
  plan: TimePlan,
  options: { readonly progress?: (share: number) => void; readonly reader?: Reader } = {},
): Promise<ReadTable> {
  const timeColumns = (plan.column >= 0 ? 1 : 0) + (plan.dateColumn >= 0 ? 1 : 0)
  const store = new ColumnStore(head.decimals, head.emptyWords, timeColumns, likelyRows(log, head))
  const sink = new RowSink(store, plan, head.ragged, head.decimals[plan.column] ?? head.decimal)
  const end =
    options.reader === 'csv-parse'
      ? await referenceRows(log, head, sink)
      : await scanRows(log, head, sink, options.progress)
  const skipped = [...sink.skipped(), ...end.skipped]
  const damage = log.damage()
  if (damage)
    skipped.push({ what: `the rest of the file: ${damage}`, count: 1, first: `after line ${end.lines}` })
  if (end.lines === SPREADSHEET_LINES)
    skipped.push({
      what: 'the file has exactly as many lines as a spreadsheet keeps (1,048,576): what came after is lost',
      count: 1,
      first: `line ${SPREADSHEET_LINES}`,
    })
  return { store, skipped, zone: sink.zone, lines: end.lines }
}

interface End {
  readonly lines: number
  readonly skipped: readonly Skipped[]
}

async function scanRows(
  log: LogSource,
  head: CsvHead,
  sink: RowSink,
  progress: ((share: number) => void) | undefined,
): Promise<End> {
  const newline = head.newline === '\r' ? 13 : 10
  const scanner = new RowScanner(head, sink, head.firstLine)
  const chunkBytes = log.packed ? CHUNK : Math.min(CHUNK, Math.max(4096, log.size ?? CHUNK))
  let work: Uint8Array = new Uint8Array(2 * chunkBytes)
  let kept = 0
  let toSkip = head.firstLine - 1
  let seen = 0
  const size = Math.max(1, (log.size ?? 0) * (log.packed ? 8 : 1))
  // Each chunk is read to behind what the one before left of a row.
  const roomFor = (bytes: number): Uint8Array => {
    if (kept + bytes + 1 > work.length) {
      const larger = new Uint8Array(2 * (kept + bytes) + 1)
      larger.set(work.subarray(0, kept))
      work = larger
    }
    return work.subarray(kept, kept + bytes)
  }
  for await (const chunk of asciiChunks(log, head.form, () => roomFor(chunkBytes))) {
    const room = roomFor(chunk.length)
    if (chunk.buffer !== room.buffer || chunk.byteOffset !== room.byteOffset) room.set(chunk)
    const total = kept + chunk.length
    let from = 0
    while (toSkip > 0) {
      const at = work.subarray(0, total).indexOf(newline, from)
      if (at < 0) break
      from = at + 1
      toSkip--
    }
    const lastEnd = toSkip > 0 ? -1 : work.subarray(0, total).lastIndexOf(newline)
    if (lastEnd >= from) from = scanner.scan(work, from, lastEnd + 1, false)
    work.copyWithin(0, from, total)
    kept = total - from
    if (kept > LONGEST_LINE) return tooLong(log.name, scanner.line, sink)
    const full = fullOf(sink.store)
    if (full) return leftOff(`the table has over ${full}`, scanner.line)
    seen += chunk.length
    progress?.(Math.min(0.99, seen / size))
  }
  if (kept === 0 || toSkip > 0) return { lines: scanner.line - 1, skipped: [] }
  const text = decodeText(work.subarray(0, kept), head.form.encoding === 'latin-1' ? 'latin-1' : 'utf-8')
  const cut = cutShort(text, head, log.damage() !== null)
  if (cut) return { lines: scanner.line - 1, skipped: cutRow(scanner.line) }
  work[kept] = newline
  scanner.scan(work, 0, kept + 1, true)
  return { lines: scanner.line - 1, skipped: [] }
}

function tooLong(name: string, line: number, sink: RowSink): End {
  const what = `line ${line} is longer than ${LONGEST_LINE >> 20} MiB without an end`
  if (sink.store.rows === 0)
    throw new LogError('line-too-long', `${name}: ${what}; rows of values were expected.`)
  return leftOff(what, line)
}

/** The bound that a table has reached, in words; looked at once a chunk. */
export function fullOf(store: Pick<ColumnStore, 'rows' | 'samples'>): string | null {
  if (store.rows >= BOUNDS.rows) return `${BOUNDS.rows / 1e6} million rows`
  return store.samples() >= BOUNDS.values ? `${BOUNDS.values / 1e6} million values` : null
}

const leftOff = (why: string, line: number): End => ({
  lines: line - 1,
  skipped: [{ what: `the rest of the file: ${why}`, count: 1, first: `line ${line}` }],
})

const cutRow = (line: number): Skipped[] => [
  { what: 'the last row: the file ends in the middle of a line', count: 1, first: `line ${line}` },
]

/**
 * Was the last line, which no line end closes, cut? It has too few fields, or its last field is shorter than any
 * seen in the head; after a broken gzip always.
 */
function cutShort(text: string, head: CsvHead, broken: boolean): boolean {
  if (text.trim() === '') return false
  if (broken) return true
  const records = splitRecords(text, head)
  // A quote that is never closed: the lines after it are judged one by one.
  if (records === null) return false
  const [fields = []] = records
  if (fields.length < head.header.length) return !head.ragged
  const last = head.header.length - 1
  const written = head.sample.map((row) => row[last]?.trim().length ?? 0).filter((length) => length > 0)
  return (
    written.length > 0 && (fields[last] ?? '').trim().length < Math.min(...written) && fields[last] !== ''
  )
}

function splitRecords(text: string, head: CsvHead): string[][] | null {
  try {
    return csvParse(text, { ...SPLIT, ...recordOptions(head) }) as string[][]
  } catch {
    return null
  }
}

/** The whole file through csv-parse: what the scanner is held against. */
async function referenceRows(log: LogSource, head: CsvHead, sink: RowSink): Promise<End> {
  const parts: Uint8Array[] = []
  for await (const chunk of asciiChunks(log, head.form, () => new Uint8Array(CHUNK))) parts.push(chunk)
  const encoding = head.form.encoding === 'latin-1' ? 'latin-1' : 'utf-8'
  const whole = decodeText(Buffer.concat(parts), encoding)
  let from = 0
  for (let line = 1; line < head.firstLine; line++) from = whole.indexOf(head.newline, from) + 1
  const rows = csvParse(whole.slice(from), {
    ...SPLIT,
    ...recordOptions(head),
    raw: true,
  }) as unknown as { record: string[]; raw: string }[]
  const ended = whole.endsWith(head.newline)
  let line = head.firstLine
  for (const [at, { record, raw }] of rows.entries()) {
    if (at === rows.length - 1 && !ended && cutShort(raw, head, log.damage() !== null))
      return { lines: line - 1, skipped: cutRow(line) }
    sink.record(record, line)
    line += (raw.endsWith(head.newline) ? raw.slice(0, -1) : raw).split(head.newline).length
  }
  return { lines: line - 1, skipped: [] }
}

/** Enough for all rows in most files (more is grown): the file's size over a short row of the head. */
function likelyRows(log: LogSource, head: CsvHead): number {
  const lengths = head.sample
    .map((row) => row.reduce((sum, field) => sum + field.length + 1, 0))
    .sort((a, b) => a - b)
  const short = Math.max(2, lengths[Math.floor(lengths.length / 10)]!)
  const bytes = (log.size ?? log.head.length) * (log.packed ? 10 : 1)
  // Untouched memory costs nothing, but the address space is asked for: at most 4 GiB over all columns.
  const most = 2 ** 32 / 8 / (head.header.length + 1)
  return Math.floor(Math.min(most, (1.05 * bytes) / short + 64))
}
