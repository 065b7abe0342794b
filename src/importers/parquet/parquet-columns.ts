import { brotliDecompressSync, gunzipSync } from 'node:zlib'
import type { ColumnData, Compressors, FileMetaData, SchemaElement } from 'hyparquet'
import { BOUNDS } from '../../../shared/bounds.ts'
import type { LogSource } from '../../bytes/file-source.ts'
import { LogError } from '../../errors.ts'

/** An opened Parquet file: what its footer says, and its columns on demand. */
export interface ParquetTable {
  readonly rows: number
  /** Columns that are plain values, in the file's order. */
  readonly columns: readonly SchemaElement[]
  /** Columns that hold lists or records: not read. */
  readonly left: readonly string[]
  readonly metadata: ReadonlyMap<string, string>
  /** Rows [from, to) that lie together: cheapest to read at once. */
  readonly groups: readonly (readonly [from: number, to: number])[]
  /** The rows [from, to) of one column. */
  read(column: string, from: number, to: number): Promise<readonly unknown[] | Float64Array>
}

/** Codecs beside snappy, which the reader brings itself. */
const COMPRESSORS: Compressors = {
  GZIP: (bytes, length) => gunzipSync(bytes, { maxOutputLength: Math.max(1, length) }),
  BROTLI: (bytes, length) => brotliDecompressSync(bytes, { maxOutputLength: Math.max(1, length) }),
}

/** @throws LogError where the file is damaged, packed by other means, or too large */
export async function openParquet(source: LogSource): Promise<ParquetTable> {
  const { parquetMetadataAsync, parquetRead } = await import('hyparquet')
  const file = await bytesOf(source)
  const metadata = await sound(source, () => parquetMetadataAsync(file))
  const rows = Number(metadata.num_rows)
  const { columns, left } = plainColumns(metadata)
  checkBounds(source.name, rows, columns.length, metadata)
  return {
    rows,
    columns,
    left,
    metadata: new Map(metadata.key_value_metadata?.map(({ key, value = '' }) => [key, value])),
    groups: groupsOf(metadata),
    async read(column, from, to) {
      const out: unknown[] | Float64Array = new Array(to - from)
      await sound(source, () =>
        parquetRead({
          file,
          metadata,
          compressors: COMPRESSORS,
          columns: [column],
          parsers: STAMPS,
          rowStart: from,
          rowEnd: to,
          onChunk: (chunk) => place(chunk, out, from, to),
        }),
      )
      return out
    },
  }
}

/** Stamps as text to the last digit that the file holds: a Date would keep milliseconds only. */
const STAMPS = {
  timestampFromMilliseconds: (count: bigint) => stampText(count, 3),
  timestampFromMicroseconds: (count: bigint) => stampText(count, 6),
  timestampFromNanoseconds: (count: bigint) => stampText(count, 9),
  dateFromDays: (days: number) => new Date(days * 86_400_000).toISOString().slice(0, 10),
}

function stampText(count: bigint, digits: number): string {
  const per = 10n ** BigInt(digits)
  const part = ((count % per) + per) % per
  const seconds = Number((count - part) / per)
  return `${new Date(seconds * 1000).toISOString().slice(0, 19)}.${String(part).padStart(digits, '0')}`
}

function groupsOf({ row_groups }: FileMetaData): (readonly [number, number])[] {
  let from = 0
  return row_groups.map(({ num_rows }) => [from, (from += Number(num_rows))] as const)
}

/** A chunk may hold rows before and after those that were asked for. */
function place({ columnData, rowStart }: ColumnData, out: unknown[], from: number, to: number): void {
  const first = Math.max(0, from - rowStart)
  const last = Math.min(columnData.length, to - rowStart)
  for (let i = first; i < last; i++) out[rowStart + i - from] = columnData[i]
}

async function bytesOf(source: LogSource) {
  const { slice, size = 0 } = source
  if (slice)
    return {
      byteLength: size,
      slice: (from: number, to = size) => whole(slice(from, to)),
    }
  const parts: Uint8Array[] = []
  for await (const chunk of source.chunks()) parts.push(chunk.slice())
  const all = whole(Buffer.concat(parts))
  return { byteLength: all.byteLength, slice: (from: number, to?: number) => all.slice(from, to) }
}

/** The bytes as a buffer of their own. */
const whole = (bytes: Uint8Array): ArrayBuffer =>
  bytes.byteLength === bytes.buffer.byteLength && bytes.buffer instanceof ArrayBuffer
    ? bytes.buffer
    : (bytes.slice().buffer as ArrayBuffer)

function plainColumns({ schema }: FileMetaData): { columns: SchemaElement[]; left: string[] } {
  const columns: SchemaElement[] = []
  const left: string[] = []
  const [root] = schema
  let at = 1
  const skip = (): void => {
    const { num_children = 0 } = schema[at++] ?? {}
    for (let child = 0; child < num_children; child++) skip()
  }
  for (let child = 0; child < (root?.num_children ?? 0) && at < schema.length; child++) {
    const element = schema[at]!
    if (element.num_children || element.repetition_type === 'REPEATED') left.push(element.name)
    else columns.push(element)
    skip()
  }
  return { columns, left }
}

function checkBounds(name: string, rows: number, columns: number, metadata: FileMetaData): void {
  if (columns > BOUNDS.columns)
    throw new LogError(
      'too-many-columns',
      `${name}: has ${columns} columns; at most ${BOUNDS.columns} were expected.`,
    )
  let bytes = 0n
  for (const { columns } of metadata.row_groups)
    for (const { meta_data } of columns) bytes += meta_data?.total_uncompressed_size ?? 0n
  if (bytes > BigInt(BOUNDS.unpackedBytes) || !Number.isSafeInteger(rows) || rows < 0 || rows > 2 ** 31)
    throw new LogError(
      'too-large',
      `${name}: its footer tells of ${rows} rows and ${bytes} bytes unpacked; at most ${BOUNDS.unpackedBytes} bytes were expected.`,
    )
}

/** What the reader met in the bytes, in a sentence with the file's name. */
async function sound<T>(source: LogSource, work: () => Promise<T>): Promise<T> {
  try {
    return await work()
  } catch (error) {
    if (error instanceof LogError) throw error
    const why = (error as Error).message.split('\n')[0]!.replace(/^parquet (error: )?/, '')
    const codec = /unsupported compression codec: (\w+)/.exec(why)?.[1]
    throw new LogError(
      'parquet',
      codec
        ? `${source.name}: its pages are packed with ${codec}, which is not read; write it again packed with snappy or gzip.`
        : `${source.name}: the Parquet file is damaged (${why}); a whole one was expected, from its first PAR1 to its last.`,
    )
  }
}
