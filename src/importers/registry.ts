import type { RawLog } from '../../shared/raw-log.ts'
import { visibleAll, visibleName } from '../../shared/visible.ts'
import type { LogSource } from '../bytes/file-source.ts'
import { applyColumnMap, readColumnMap } from '../naming/column-map.ts'
import { isPcap, readPcap } from './captures/pcap.ts'
import { isPcapng, readPcapng } from './captures/pcapng.ts'
import { isFrameCsv, readFrameCsv } from './frame-csv/frame-csv.ts'
import type { Importer, ImportOptions } from './importer.ts'
import { isOtherFile, refuseOtherFile } from './other-files.ts'
import { isParquet, readParquet } from './parquet/parquet.ts'
import { isLongCsv, readLongCsv } from './table/long-csv.ts'
import { oddTable, putRight } from './table/odd-table.ts'
import { readWideCsv } from './table/wide-csv.ts'

/** Tried in order; the first whose sniff says yes reads the log. */
export const IMPORTERS: readonly Importer[] = [
  { layout: 'pcap', sniff: isPcap, read: readPcap },
  { layout: 'pcapng', sniff: isPcapng, read: readPcapng },
  { layout: 'Parquet', sniff: isParquet, read: readParquet },
  { layout: 'frame CSV', sniff: isFrameCsv, read: readFrameCsv },
  { layout: 'other file', sniff: isOtherFile, read: refuseOtherFile },
  { layout: 'odd table', sniff: (head) => oddTable(head) !== null, read: readOddTable },
  { layout: 'long CSV', sniff: isLongCsv, read: readLongCsv },
  { layout: 'wide CSV', sniff: () => true, read: readWideCsv },
]

/** A table that needs one thing put right, then read as what it is. */
function readOddTable(source: LogSource, options: ImportOptions): Promise<RawLog> {
  const plain = putRight(source, oddTable(source.head)!)
  return isLongCsv(plain.head) ? readLongCsv(plain, options) : readWideCsv(plain, options)
}

/** Reads one log and applies what a person said about its columns. */
export async function readLog(source: LogSource, options: ImportOptions): Promise<RawLog> {
  const log = readable(await IMPORTERS.find((importer) => importer.sniff(source.head))!.read(source, options))
  const kept = options.remembered
    ? applyColumnMap(log, options.remembered(log.fingerprint), 'remembered')
    : log
  return options.map === undefined ? kept : applyColumnMap(kept, await readColumnMap(options.map), 'map')
}

/** The log with every name that holds characters which are not read but obeyed showing them as what they are. */
function readable(log: RawLog): RawLog {
  return {
    ...log,
    name: visibleName(log.name),
    skipped: visibleAll(log.skipped),
    events: visibleAll(log.events),
    ...(log.notes ? { notes: visibleAll(log.notes) } : {}),
    bus: visibleAll(log.bus),
    series: log.series.map((each) => ({
      ...each,
      name: visibleName(each.name),
      node: each.node === null ? null : visibleName(each.node),
      labels: each.labels?.map(visibleName) ?? null,
    })),
  }
}
