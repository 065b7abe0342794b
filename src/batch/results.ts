import { existsSync, mkdirSync, readdirSync, readFileSync, rmdirSync, rmSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { z } from 'zod'
import { VERDICT_STATES } from '../../shared/review.ts'
import { LogError } from '../errors.ts'
import { diskFault } from '../library/durable.ts'
import type { OutTable } from '../out/out-table.ts'
import { REVIEW_TABLES } from '../out/review-tables.ts'
import { writeWhole } from '../out/whole-file.ts'
import { writeTable } from '../out/write-out.ts'
import type { BatchJob } from './batch-job.ts'

/**
 * The results of a batch, in one folder that several machines may share:
 *
 *     records/KEY.json                        what was done: written last, by one rename. No record: not done
 *     reviews/KEY.json                        the review, as `aftermile review --json` prints it
 *     data/TABLE/kit=…/car=…/drive=KEY/…      the data set: a folder a table, partitioned as Hive does
 *
 * KEY is of the logs' hashes: whoever reviews a drive, and however often, it lies at one place, once.
 */
export const recordSchema = z.object({
  form: z.literal(1),
  key: z.string(),
  asked: z.string(),
  program: z.string(),
  name: z.string(),
  why: z.string(),
  logs: z.array(z.object({ name: z.string(), sha256: z.string() })),
  state: z.enum(['reviewed', 'refused']).describe('refused: the logs cannot be read'),
  sentence: z.string(),
  partition: z.string().nullable(),
  car: z.string().nullable(),
  verdict: z.enum(VERDICT_STATES).nullable(),
  exit: z.int().describe('as `aftermile review` would have ended'),
  stop: z.int(),
  attention: z.int(),
})
export type BatchRecord = z.infer<typeof recordSchema>

const recordPath = (out: string, key: string): string => join(out, 'records', `${key}.json`)
export const reviewPath = (out: string, key: string): string => join(out, 'reviews', `${key}.json`)

/** What was done of a drive; null where nothing was, or where the record is damaged. */
export function readRecord(out: string, key: string): BatchRecord | null {
  try {
    return recordSchema.parse(JSON.parse(readFileSync(recordPath(out, key), 'utf8')))
  } catch {
    return null
  }
}

/** Every record there is. */
export function readRecords(out: string): BatchRecord[] {
  try {
    return readdirSync(join(out, 'records'))
      .filter((name) => name.endsWith('.json'))
      .sort()
      .flatMap((name) => readRecord(out, name.slice(0, -5)) ?? [])
  } catch {
    return []
  }
}

/** Is this very work done: these logs, asked in this way, by this version? */
export function isDone(out: string, job: BatchJob): boolean {
  const record = readRecord(out, job.key)
  if (record === null || record.asked !== job.asked || record.program !== job.program) return false
  return (
    record.state === 'refused' ||
    (existsSync(reviewPath(out, job.key)) && existsSync(tablePath(out, 'drives', record.partition!)))
  )
}

const NO_NAME = '__HIVE_DEFAULT_PARTITION__'

/** `kit=…/car=…/drive=…`: what may not stand in a path is written %XX, as Hive does; a name not told as Hive's null. */
export function partitionOf(kit: string | undefined, car: string | undefined, key: string): string {
  const plain = (name: string | undefined): string => {
    if (name === undefined || name.trim() === '') return NO_NAME
    if (/^\.+$/.test(name)) return name.replaceAll('.', '%2E')
    return name.replace(/[^\p{L}\p{N} _.()-]/gu, encodeURIComponent)
  }
  return `kit=${plain(kit)}/car=${plain(car)}/drive=${key}`
}

const tablePath = (out: string, table: string, partition: string): string =>
  join(out, 'data', table, partition, `${table}.parquet`)

/**
 * Stores a drive's results: tables and review first, the record last. What fails leaves no half of a new drive behind.
 * @throws LogError `disk` where the disk takes no more
 */
export async function storeResults(
  out: string,
  record: BatchRecord,
  made: { readonly json: string; readonly tables: readonly OutTable[] } | null,
): Promise<void> {
  const before = readRecord(out, record.key)
  try {
    if (before?.partition && before.partition !== record.partition) removeTables(out, before.partition)
    if (made) {
      for (const table of made.tables) {
        const path = tablePath(out, table.name, record.partition!)
        mkdirSync(dirname(path), { recursive: true })
        await writeTable(path, 'parquet', table)
      }
      await writeText(reviewPath(out, record.key), made.json)
    }
    await writeText(recordPath(out, record.key), `${JSON.stringify(record, null, 1)}\n`)
  } catch (error) {
    if (before === null) removeResults(out, record)
    const why = diskFault(error)
    if (why === null) throw error
    throw new LogError('disk', `${out}: ${why}.`)
  }
}

function writeText(path: string, text: string): Promise<void> {
  mkdirSync(dirname(path), { recursive: true })
  return writeWhole(path, (put) => put(Buffer.from(text)))
}

/** Takes away what was stored of a drive whose logs are not what they were. The record goes first. */
export function removeResults(out: string, { key, partition }: BatchRecord): void {
  rmSync(recordPath(out, key), { force: true })
  rmSync(reviewPath(out, key), { force: true })
  if (partition) removeTables(out, partition)
}

function removeTables(out: string, partition: string): void {
  for (const table of REVIEW_TABLES) {
    let folder = dirname(tablePath(out, table, partition))
    rmSync(folder, { recursive: true, force: true })
    try {
      for (let up = 0; up < 2; up++) rmdirSync((folder = dirname(folder)))
    } catch {}
  }
}
