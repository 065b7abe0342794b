import type { RawLog } from '../../../shared/raw-log.ts'
import type { LogSource } from '../../bytes/file-source.ts'
import { LogError } from '../../errors.ts'
import { type FrameReader, readFrameLog } from '../frames/frame-log.ts'
import { FrameOutlet, type FrameSink, SkipCount, type WalkReport } from '../frames/frame-sink.ts'
import type { SignalTable } from '../frames/signal.ts'
import type { ImportOptions } from '../importer.ts'
import { asciiChunks, decodeText, type TextForm, textForm } from '../table/text-bytes.ts'
import { type FrameColumns, frameColumns } from './frame-csv-columns.ts'
import { FrameLine } from './frame-csv-line.ts'

const MAX_LINE = 65536
const CHUNK = 1 << 20

export function isFrameCsv(head: Uint8Array): boolean {
  let form: TextForm
  try {
    form = textForm(head, '')
  } catch {
    return false
  }
  return frameColumns(textOf(head, form)) !== null
}

const textOf = (head: Uint8Array, form: TextForm): string =>
  decodeText(head.subarray(form.markBytes), form.encoding)

/** A CSV with a CAN frame a row. */
export function readFrameCsv(source: LogSource, options: ImportOptions): Promise<RawLog> {
  return readFrameLog(source, options, 'frame CSV', frameCsvReader)
}

export const frameCsvReader: FrameReader = async (log, table) => {
  const form = textForm(log.head, log.name)
  const columns = frameColumns(textOf(log.head, form), table)
  if (!columns)
    throw new LogError(
      'frame-csv',
      `${log.name}: no columns of a frame log found; time, identifier and data were expected.`,
    )
  return (again, sink) => walkFrameCsv(again, sink, columns, form, table)
}

/** Walks the rows from bytes; a row that is no frame is counted, with the first one's line. */
export async function walkFrameCsv(
  source: LogSource,
  sink: FrameSink,
  columns: FrameColumns,
  form: TextForm,
  table: SignalTable | null,
): Promise<WalkReport> {
  const skips = new SkipCount()
  const outlet = new FrameOutlet(sink, columns.time.local)
  const line = new FrameLine(columns, table, outlet, skips)
  const newline = columns.newline.charCodeAt(0)
  let number = 0
  let carry: Uint8Array = new Uint8Array(0)
  const take = (bytes: Uint8Array, from: number, to: number): void => {
    if (++number > columns.skipLines && to > from) line.take(bytes, from, to, number)
  }
  const room = new Uint8Array(CHUNK)
  for await (const chunk of asciiChunks(source, form, () => room)) {
    let from = 0
    if (carry.length > 0) {
      const end = chunk.indexOf(newline)
      if (end >= 0) {
        const joint = Buffer.concat([carry, chunk.subarray(0, end)])
        take(joint, 0, joint.length)
        carry = carry.subarray(0, 0)
        from = end + 1
      } else {
        carry = Buffer.concat([carry, chunk])
        from = chunk.length
      }
    }
    for (;;) {
      const to = chunk.indexOf(newline, from)
      if (to < 0) break
      take(chunk, from, to)
      from = to + 1
    }
    if (from < chunk.length) carry = chunk.slice(from) // the chunk's memory is used again
    if (carry.length > MAX_LINE) {
      skips.add(
        'rest of the file',
        `line ${number + 1}: over ${MAX_LINE} characters without the end of a line`,
      )
      carry = carry.subarray(0, 0)
      break
    }
  }
  if (carry.length > 0) take(carry, 0, carry.length)
  outlet.flush()
  return {
    startedAt: line.startedAt(),
    frames: outlet.frames,
    skipped: skips.list(),
    clockSteps: outlet.clock.steps,
    assumed: columns.time.assumed,
  }
}
