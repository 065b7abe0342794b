import type { RawLog } from '../../shared/raw-log.ts'
import type { LogSource } from '../bytes/file-source.ts'
import type { ColumnMap } from '../naming/column-map.ts'

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
