import { closeSync, mkdirSync, openSync, readdirSync, renameSync, rmSync, writeSync } from 'node:fs'
import { join } from 'node:path'
import type { Drive } from '../../shared/drive.ts'
import type { Review } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { LogError } from '../errors.ts'
import { driveFile } from './drive-file.ts'
import type { OutTable } from './out-table.ts'
import { reviewTables } from './review-tables.ts'
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

/** A table into a file, written aside and then renamed: nobody meets half of one. */
export async function writeTable(
  path: string,
  format: Format,
  table: OutTable,
  more: Readonly<Record<string, string>> = {},
): Promise<void> {
  const aside = `${path}.${process.pid}.aside`
  try {
    const file = openSync(aside, 'w', 0o644)
    try {
      const put = (bytes: Uint8Array): void => {
        for (let done = 0; done < bytes.length; ) done += writeSync(file, bytes, done)
      }
      if (format === 'parquet') (await import('./write-parquet.ts')).writeParquet(table, more, put)
      else for (const text of format === 'csv' ? csvText(table) : jsonText(table)) put(Buffer.from(text))
    } finally {
      closeSync(file)
    }
    renameSync(aside, path)
  } catch (error) {
    rmSync(aside, { force: true })
    throw error
  }
}

function folderHoldsOther(path: string): boolean {
  try {
    return readdirSync(path).length > 0
  } catch {
    return false
  }
}
