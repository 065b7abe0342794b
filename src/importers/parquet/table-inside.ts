import type { SchemaElement } from 'hyparquet'
import type { RawLog } from '../../../shared/raw-log.ts'
import type { LogSource } from '../../bytes/file-source.ts'
import { LogError } from '../../errors.ts'
import { isFrameCsv, readFrameCsv } from '../frame-csv/frame-csv.ts'
import type { ImportOptions } from '../importer.ts'
import { isLongCsv, readLongCsv } from '../table/long-csv.ts'
import { readWideCsv } from '../table/wide-csv.ts'
import type { ParquetTable } from './parquet-columns.ts'

/** Rows turned into text at once, and rows that the head is made of. */
const ROWS = 4096
const HEAD_ROWS = 400

/**
 * A Parquet file that another program wrote: its rows as the CSV that they would make, read like one, so every layout
 * and every way to write time that a CSV may have is understood here too. A number is written as the shortest text that
 * reads back as the same number, so nothing is lost on the way; null and NaN are empty fields.
 */
export async function readTableInside(
  source: LogSource,
  table: ParquetTable,
  options: ImportOptions,
): Promise<RawLog> {
  if (table.columns.length === 0 || table.rows === 0)
    throw new LogError(
      'no-rows',
      `${source.name}: the Parquet file holds ${table.rows} rows of ${table.columns.length} plain columns; a log of values was expected.`,
    )
  const inside: LogSource = {
    name: source.name,
    packed: source.packed,
    head: Buffer.from((await text(table, 0, Math.min(table.rows, HEAD_ROWS)).next()).value ?? ''),
    chunks: () => bytes(text(table, 0, table.rows)),
    sha256: source.sha256,
    damage: () => null,
  }
  const read = isFrameCsv(inside.head) ? readFrameCsv : isLongCsv(inside.head) ? readLongCsv : readWideCsv
  const log = await read(inside, options)
  const skipped =
    table.left.length === 0
      ? []
      : [
          {
            what: 'columns of lists or records',
            count: table.left.length,
            first: `column "${table.left[0]}"`,
          },
        ]
  return {
    ...log,
    layout: `Parquet, ${log.layout.replace(/ CSV.*/, '')}`,
    skipped: [...log.skipped, ...skipped],
  }
}

async function* bytes(texts: AsyncIterable<string>): AsyncIterable<Uint8Array> {
  for await (const each of texts) yield Buffer.from(each)
}

/** Header and rows [from, to) as CSV. */
async function* text(table: ParquetTable, from: number, to: number): AsyncGenerator<string> {
  let out = `${table.columns.map(({ name }) => quoted(name)).join(',')}\n`
  for (const [first, last] of table.groups) {
    if (first >= to || last <= from) continue
    const end = Math.min(last, to)
    const columns: (readonly unknown[] | Float64Array)[] = []
    for (const { name } of table.columns) columns.push(await table.read(name, first, end))
    for (let row = 0; row < end - first; row++) {
      out += `${table.columns.map((column, c) => field(columns[c]![row], column)).join(',')}\n`
      if (row % ROWS !== ROWS - 1) continue
      yield out
      out = ''
    }
  }
  yield out
}

function field(value: unknown, column: SchemaElement): string {
  if (value === null || value === undefined) return ''
  if (typeof value === 'number')
    return Number.isNaN(value) ? '' : column.type === 'FLOAT' ? shortest(value) : signed(value)
  if (typeof value === 'boolean') return value ? '1' : '0'
  const { logical_type: logical } = column
  return quoted(`${value}${logical?.type === 'TIMESTAMP' && logical.isAdjustedToUTC ? 'Z' : ''}`)
}

const signed = (value: number): string => (Object.is(value, -0) ? '-0' : String(value))

/** The shortest text of a single-precision number: 3.2, not 3.200000047683716. */
function shortest(value: number): string {
  for (let digits = 6; digits < 9; digits++) {
    const text = Number(value.toPrecision(digits))
    if (Math.fround(text) === value) return signed(text)
  }
  return signed(value)
}

const quoted = (text: string): string =>
  /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""').replace(/[\r\n]+/g, ' ')}"` : text
