import type { LogSource } from '../bytes/file-source.ts'
import { applyColumnMap, type ColumnMap, readColumnMap } from '../naming/column-map.ts'
import { isFrameCsv, readFrameCsv } from './frame-csv.ts'
import { isLongCsv, readLongCsv } from './long-csv.ts'
import { isPcap, readPcap } from './pcap.ts'
import { isPcapng, readPcapng } from './pcapng.ts'
import type { RawLog } from './raw-log.ts'
import { readWideCsv } from './wide-csv.ts'

/** What importers may use beside the bytes. */
export interface ImportOptions {
  /** Path of the signal table, for frame logs. */
  readonly signals?: string
  /** Path of a name map (column → channel, unit). */
  readonly map?: string
  /** Corrections kept for a layout, by its fingerprint; the map outranks them. */
  readonly remembered?: (fingerprint: string) => ColumnMap
  /** Called now and then with the share read, 0 … 1. */
  readonly progress?: (share: number) => void
}

/** One input kind: `sniff` looks at the head only, `read` does the work. */
export interface Importer {
  readonly layout: string
  sniff(head: Uint8Array): boolean
  read(source: LogSource, options: ImportOptions): Promise<RawLog>
}

/** Tried in order; the first whose sniff says yes reads the log. */
export const IMPORTERS: readonly Importer[] = [
  { layout: 'pcap', sniff: isPcap, read: readPcap },
  { layout: 'pcapng', sniff: isPcapng, read: readPcapng },
  { layout: 'frame CSV', sniff: isFrameCsv, read: readFrameCsv },
  { layout: 'long CSV', sniff: isLongCsv, read: readLongCsv },
  { layout: 'wide CSV', sniff: () => true, read: readWideCsv },
]

/** Reads one log and applies what a person said about its columns. */
export async function readLog(source: LogSource, options: ImportOptions): Promise<RawLog> {
  const log = await IMPORTERS.find((importer) => importer.sniff(source.head))!.read(source, options)
  const kept = options.remembered
    ? applyColumnMap(log, options.remembered(log.fingerprint), 'remembered')
    : log
  return options.map === undefined ? kept : applyColumnMap(kept, await readColumnMap(options.map), 'map')
}
