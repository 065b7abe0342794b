import { basename } from 'node:path'
import { type LogSource, openLogSource } from '../bytes/file-source.ts'
import { instantMs } from '../drive/clock/wall-clock.ts'
import { readLog } from '../importers/registry.ts'

/** What tells which logs belong together. */
export interface SeenLog {
  readonly path: string
  readonly name: string
  readonly sha256: string
  /** The same for logs of the same box: its layout and columns; '' where nothing could be read. */
  readonly box: string
  /** Moments of its first and last stamp, ms since 1970; null where it carries no date. */
  readonly clock: readonly [number, number] | null
}

/** A log's hash alone. @throws LogError where it cannot be read */
export async function hashLog(path: string): Promise<SeenLog> {
  const source = await openLogSource(path)
  return { path, name: basename(path), sha256: await source.sha256(), box: '', clock: null }
}

const TAIL_BYTES = 1 << 16

/** A log's hash, its box and its clock, from its first and last rows. @throws LogError where it cannot be read */
export async function lookAtLog(path: string, signals?: string): Promise<SeenLog> {
  const source = await openLogSource(path)
  const seen = { path, name: basename(path), sha256: await source.sha256() }
  try {
    const log = await readLog(await headAndTail(source), signals === undefined ? {} : { signals })
    const box = /pcap/.test(log.layout) ? log.layout : log.fingerprint
    if (log.startedAt === null) return { ...seen, box, clock: null }
    const startMs = instantMs(log.startedAt)
    const lastS = log.series.reduce((last, { timeS }) => Math.max(last, timeS[timeS.length - 1] ?? 0), 0)
    return { ...seen, box, clock: [startMs, startMs + lastS * 1000] }
  } catch {
    // What cannot be read here is told when it is reviewed.
    return { ...seen, box: '', clock: null }
  }
}

/** Rows from both ends of a table; captures and Parquet, whose ends cannot be read alone, as they are. */
async function headAndTail(source: LogSource): Promise<LogSource> {
  const { head } = source
  if (!isText(head)) return source
  let tail = new Uint8Array(0)
  let bytes = 0
  for await (const chunk of source.chunks()) {
    bytes += chunk.length
    const joined = chunk.length >= TAIL_BYTES ? chunk : Buffer.concat([tail, chunk])
    tail = joined.slice(-TAIL_BYTES)
  }
  if (bytes <= head.length + TAIL_BYTES) return source
  const short = Buffer.concat([
    head.subarray(0, head.lastIndexOf(10) + 1),
    tail.subarray(tail.indexOf(10) + 1),
  ])
  return {
    name: source.name,
    packed: false,
    size: short.length,
    head: short.subarray(0, head.length),
    async *chunks() {
      yield short
    },
    sha256: async () => '',
    damage: () => null,
  }
}

const isText = (head: Uint8Array): boolean => !head.subarray(0, 4096).includes(0) && head[0] !== 0x0a
