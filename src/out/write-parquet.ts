import { gzipSync } from 'node:zlib'
import { ByteWriter, ParquetWriter } from 'hyparquet-writer'
import { METADATA } from '../../shared/drive-file.ts'
import { VERSION } from '../../shared/version.ts'
import type { OutColumn, OutTable, OutValues } from './out-table.ts'

/** Rows held at once while writing, and rows of a row group in the file. */
const GROUP_ROWS = 65_536

const TYPES = {
  number: { type: 'DOUBLE' },
  whole: { type: 'INT32' },
  switch: { type: 'BOOLEAN' },
  text: { type: 'BYTE_ARRAY', converted_type: 'UTF8' },
} as const

/**
 * A table as Parquet: numbers as DOUBLE to the last bit, packed with gzip, units and sources under `columns` in the
 * metadata. The same table gives the same bytes.
 * @param more further entries of the file's metadata
 * @param out takes the file's bytes, in order; each array is its own
 */
export function writeParquet(
  table: OutTable,
  more: Readonly<Record<string, string>>,
  out: (bytes: Uint8Array) => void,
): void {
  const bytes = new ByteWriter()
  const flush = (): void => {
    out(bytes.getBytes().slice())
    bytes.index = 0
  }
  const writer = new ParquetWriter({
    writer: Object.assign(bytes, { flush, finish: flush }),
    createdBy: `aftermile ${VERSION}`,
    codec: 'GZIP',
    compressors: { GZIP: (input) => gzipSync(input, { level: 6 }) },
    kvMetadata: [
      { key: METADATA.table, value: table.name },
      { key: METADATA.columns, value: JSON.stringify(table.columns.map(({ note }) => note)) },
      ...Object.entries(more).map(([key, value]) => ({ key, value })),
    ],
    schema: [
      { name: 'root', num_children: table.columns.length },
      ...table.columns.map(({ type, note }) => ({
        name: note.name,
        repetition_type: 'OPTIONAL' as const,
        ...TYPES[type],
      })),
    ],
  })
  for (let from = 0; from < table.rows; from += GROUP_ROWS) {
    const to = Math.min(table.rows, from + GROUP_ROWS)
    writer.write({ columnData: table.columns.map((each) => pageOf(each, from, to)), rowGroupSize: to - from })
  }
  writer.finish()
}

function pageOf(column: OutColumn, from: number, to: number) {
  const data = column.slice(from, to)
  return {
    name: column.note.name,
    data: data as OutValues & unknown[],
    // Its dictionary takes −0 for 0.
    ...(column.type === 'number' && hasMinusZero(data) ? { encoding: 'PLAIN' as const } : {}),
  }
}

function hasMinusZero(values: OutValues): boolean {
  for (let i = 0; i < values.length; i++) if (values[i] === 0 && Object.is(values[i], -0)) return true
  return false
}
