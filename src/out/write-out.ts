import { mkdirSync, readdirSync } from 'node:fs'
import { join } from 'node:path'
import type { Drive } from '../../shared/drive.ts'
import type { Review } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { LogError } from '../errors.ts'
import { driveFile } from './drive-file.ts'
import type { OutTable } from './out-table.ts'
import { reviewTables } from './review-tables.ts'
import { writeWhole } from './whole-file.ts'
import { csvText, jsonText } from './write-text.ts'

export const FORMATS = ['parquet', 'csv', 'json'] as const
export type Format = (typeof FORMATS)[number]

/** What goes out of one drive. */
export interface OutDrive {
  readonly drive: Drive
  readonly review: Review
  readonly vehicle: Vehicle
}

/**
 * A path that ends in `.parquet`: the drive in one file. Any other: a folder with a file a table, channels among them.
 * Gives the paths written.
 */
export async function writeOut(path: string, format: Format, out: OutDrive): Promise<string[]> {
  if (/\.parquet$/i.test(path)) {
    await writeDriveFile(path, out.drive, out.vehicle)
    return [path]
  }
  if (folderHoldsOther(path))
    throw new LogError('target-not-empty', `${path}: is not empty; a new or empty folder was expected.`)
  mkdirSync(path, { recursive: true })
  const { table, more } = driveFile(out.drive, out.vehicle)
  const written: string[] = []
  for (const each of [table, ...reviewTables(out.review, out.vehicle)]) {
    const file = join(path, `${each.name}.${format}`)
    await writeTable(file, format, each, each === table ? more : {})
    written.push(file)
  }
  return written
}

/** The drive in one file, opened again by `aftermile review` and by dropping it on the page. */
export async function writeDriveFile(path: string, drive: Drive, vehicle: Vehicle): Promise<void> {
  const { table, more } = driveFile(drive, vehicle)
  await writeTable(path, 'parquet', table, more)
}

/** A table into a file. */
export function writeTable(
  path: string,
  format: Format,
  table: OutTable,
  more: Readonly<Record<string, string>> = {},
): Promise<void> {
  return writeWhole(path, async (put) => {
    if (format === 'parquet') (await import('./write-parquet.ts')).writeParquet(table, more, put)
    else for (const text of format === 'csv' ? csvText(table) : jsonText(table)) put(Buffer.from(text))
  })
}

function folderHoldsOther(path: string): boolean {
  try {
    return readdirSync(path).length > 0
  } catch {
    return false
  }
}
