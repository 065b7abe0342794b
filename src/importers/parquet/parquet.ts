import { METADATA } from '../../../shared/drive-file.ts'
import type { RawLog } from '../../../shared/raw-log.ts'
import type { LogSource } from '../../bytes/file-source.ts'
import { LogError } from '../../errors.ts'
import type { ImportOptions } from '../importer.ts'
import { readOwnDrive } from './own-drive.ts'
import { openParquet } from './parquet-columns.ts'
import { readTableInside } from './table-inside.ts'

/** Parquet begins with PAR1. Source: the Apache Parquet format's own page, "File format". */
export function isParquet(head: Uint8Array): boolean {
  return head[0] === 0x50 && head[1] === 0x41 && head[2] === 0x52 && head[3] === 0x31
}

/** A drive that this program wrote comes back as it was; any other table is read as a CSV of the same rows would be. */
export async function readParquet(source: LogSource, options: ImportOptions): Promise<RawLog> {
  const table = await openParquet(source)
  const written = table.metadata.get(METADATA.table)
  if (written !== undefined && written !== 'channels')
    throw new LogError(
      'no-log',
      `${source.name}: is a table of ${written}, no log; the channels of a drive were expected.`,
    )
  return table.metadata.has(METADATA.own)
    ? readOwnDrive(source, table)
    : readTableInside(source, table, options)
}
