import type { LogSource } from '../bytes/file-source.ts'
import { LogError } from '../errors.ts'
import { type FrameColumns, frameColumns } from './frame-csv-columns.ts'
import { FrameLine } from './frame-csv-line.ts'
import { readFrameLog } from './frame-log.ts'
import { FrameOutlet, type FrameSink, SkipCount, type WalkReport } from './frame-sink.ts'
import type { RawLog } from './raw-log.ts'
import type { ImportOptions } from './registry.ts'
import type { SignalTable } from './signal-table.ts'

const MAX_LINE = 65536

export const isFrameCsv = (head: Uint8Array): boolean =>
  !head.subarray(0, 4096).includes(0) && frameColumns(new TextDecoder().decode(head)) !== null

/** A CSV with a CAN frame a row. */
export function readFrameCsv(source: LogSource, options: ImportOptions): Promise<RawLog> {
  return readFrameLog(source, options, 'frame CSV', async (log, table) => {
    const columns = understand(log, table)
    return (again, sink) => walkFrameCsv(again, sink, columns, table)
  })
}

function understand(source: LogSource, table: SignalTable | null): FrameColumns {
  const columns = frameColumns(new TextDecoder().decode(source.head), table)
  if (!columns)
    throw new LogError(
      'frame-csv',
      `${source.name}: no columns of a frame log found; time, identifier and data were expected.`,
    )
  return columns
}

/** Walks the rows from bytes; a row that is no frame is counted, with the first one's line. */
export async function walkFrameCsv(
  source: LogSource,
  sink: FrameSink,
  columns: FrameColumns,
  table: SignalTable | null,
): Promise<WalkReport> {
  const skips = new SkipCount()
  const outlet = new FrameOutlet(sink)
  const line = new FrameLine(columns, table, outlet, skips)
  let number = 0
  let carry: Uint8Array = new Uint8Array(0)
  const take = (bytes: Uint8Array, from: number, to: number): void => {
    if (++number > columns.skipLines && to > from) line.take(bytes, from, to, number)
  }
  for await (const chunk of source.chunks()) {
    const bytes = carry.length > 0 ? Buffer.concat([carry, chunk]) : chunk
    let from = 0
    for (;;) {
      const to = bytes.indexOf(10, from)
      if (to < 0) break
      take(bytes, from, to)
      from = to + 1
    }
    carry = bytes.subarray(from)
    if (carry.length > MAX_LINE) {
      skips.add('rest of the file', `line ${number + 1}: over ${MAX_LINE} characters without a line's end`)
      carry = carry.subarray(0, 0)
      break
    }
  }
  if (carry.length > 0) take(carry, 0, carry.length)
  outlet.flush()
  return {
    startedAtMs: line.startedAtMs,
    frames: outlet.frames,
    skipped: skips.list(),
    clockSteps: outlet.clock.steps,
  }
}
