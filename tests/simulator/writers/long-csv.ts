import type { Box } from '../boxes.ts'
import type { Samples } from '../measure.ts'
import { columnsOf, type Naming, stampsOf } from './columns.ts'
import { type Encoding, encode } from './text-bytes.ts'
import { TIME_HEADER, type TimeForm, timeField } from './time-field.ts'

export interface LongDialect extends Naming {
  readonly delimiter: ',' | ';' | '\t'
  readonly decimal: '.' | ','
  readonly time: TimeForm
  readonly withUnit: boolean
  readonly encoding?: Encoding
}

/** A row a sample: time, channel, value and, if wanted, unit; in order of time. */
export function writeLongCsv(samples: readonly Samples[], box: Box, dialect: LongDialect): Uint8Array {
  const columns = columnsOf(samples, box, dialect)
  const { delimiter } = dialect
  const [timeName, timeUnit] = TIME_HEADER[dialect.time]
  const head = [timeUnit ? `${timeName} [${timeUnit}]` : timeName, 'Channel', 'Value']
  const lines = [[...head, ...(dialect.withUnit ? ['Unit'] : [])].join(delimiter)]
  const next = new Int32Array(columns.length)
  const comma = dialect.decimal === ','
  for (const stamp of stampsOf(columns)) {
    let time = timeField(box, dialect.time, stamp)
    if (comma && dialect.time === 'seconds') time = time.replace('.', ',')
    columns.forEach((column, c) => {
      const at = next[c]!
      if (column.samples.timeS[at] !== stamp) return
      next[c] = at + 1
      const text = comma ? column.text(at).replace('.', ',') : column.text(at)
      const fields = [time, column.name, text, ...(dialect.withUnit ? [column.unit] : [])]
      if (text !== '') lines.push(fields.join(delimiter))
    })
  }
  return encode(`${lines.join('\n')}\n`, dialect.encoding ?? 'utf-8')
}
