import type { Box } from '../boxes.ts'
import type { Samples } from '../measure.ts'
import { type Column, columnsOf, type Naming, stampsOf } from './columns.ts'
import { type Encoding, encode } from './text-bytes.ts'
import { TIME_HEADER, type TimeForm, timeField } from './time-field.ts'

export interface WideDialect extends Naming {
  readonly delimiter: ',' | ';' | '\t'
  readonly decimal: '.' | ','
  readonly time: TimeForm
  readonly timeDecimals?: number
  readonly unitsIn: 'brackets' | 'parentheses' | 'suffix' | 'row' | 'nowhere'
  readonly encoding?: Encoding
  readonly lineEnd?: '\n' | '\r\n'
  /** Lines before the header. */
  readonly preamble?: readonly string[]
}

/** A row a moment, a column a channel; a field is empty where its channel has no sample on the row. */
export function writeWideCsv(samples: readonly Samples[], box: Box, dialect: WideDialect): Uint8Array {
  const columns = columnsOf(samples, box, dialect)
  const stamps = stampsOf(columns)
  const { delimiter } = dialect
  const end = dialect.lineEnd ?? '\n'
  const [timeName, timeUnit] = TIME_HEADER[dialect.time]
  const heads: (readonly [string, string])[] = [
    [dialect.names === 'words' ? timeName : timeName.toLowerCase().replaceAll(' ', '_'), timeUnit],
    ...columns.map((column) => [column.name, column.unit] as const),
  ]
  const lines = [
    ...(dialect.preamble ?? []),
    heads.map(([name, unit]) => header(name, unit, dialect.unitsIn)).join(delimiter),
    ...(dialect.unitsIn === 'row' ? [heads.map(([, unit]) => unit).join(delimiter)] : []),
  ]
  const next = new Int32Array(columns.length)
  const comma = dialect.decimal === ','
  for (const stamp of stamps) {
    let line = timeField(box, dialect.time, stamp, dialect.timeDecimals)
    if (comma && dialect.time === 'seconds') line = line.replace('.', ',')
    for (let c = 0; c < columns.length; c++) line += delimiter + field(columns[c]!, next, c, stamp, comma)
    lines.push(line)
  }
  return encode(lines.join(end) + end, dialect.encoding ?? 'utf-8')
}

function field(column: Column, next: Int32Array, c: number, stamp: number, comma: boolean): string {
  const at = next[c]!
  if (column.samples.timeS[at] !== stamp) return ''
  next[c] = at + 1
  const text = column.text(at)
  return comma ? text.replace('.', ',') : text
}

function header(name: string, unit: string, where: WideDialect['unitsIn']): string {
  if (unit === '' || where === 'row' || where === 'nowhere') return name
  if (where === 'brackets') return `${name} [${unit}]`
  if (where === 'parentheses') return `${name} (${unit})`
  return `${name}_${unit.replace('°', 'deg').replace('%', 'pct').replace('km/h', 'kmh').replace('/', '').toLowerCase()}`
}
