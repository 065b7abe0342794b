import { execFileSync, spawnSync } from 'node:child_process'
import {
  appendFileSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { beforeAll, describe, expect, test } from 'vitest'
import { type BatchValues, runBatch } from '../../src/batch/command.ts'
import type { BatchRecord } from '../../src/batch/results.ts'
import { partitionOf, readRecords, reviewPath } from '../../src/batch/results.ts'
import { openDrive } from '../../src/open/open-drive.ts'
import { readVehicleFile } from '../../src/open/vehicle-file.ts'
import { reviewTables } from '../../src/out/review-tables.ts'
import { toJson } from '../../src/report/json.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { duck } from '../helpers/duck.ts'
import { tinyLog, writeTinyDrives } from '../helpers/tiny-logs.ts'

const root = mkdtempSync(join(tmpdir(), 'aftermile-batch-'))
const logs = join(root, 'night')
const out = join(root, 'results')

interface Ran {
  readonly exit: number
  readonly ends: (BatchRecord & { fresh: boolean })[]
  readonly said: string
}

async function batch(values: BatchValues = {}, folder = logs): Promise<Ran> {
  let text = ''
  let said = ''
  const exit = await runBatch(
    [folder],
    { out, json: true, ...values },
    (more) => (text += more),
    (more) => (said += more),
  )
  return { exit, ends: JSON.parse(text), said }
}

const reviewed = ({ ends }: Ran) => ends.filter(({ fresh }) => fresh).map(({ name }) => name)
const log = (n: number) => join(logs, ['juniper', 'sorrel', 'teasel'][n % 3]!, `drive-00${n}`, 'log.csv')

describe('a batch', () => {
  let first: Ran
  beforeAll(async () => {
    writeTinyDrives(logs, 4)
    first = await batch()
  })

  test('reviews every drive, stores the review as review --json prints it, and says why logs are one drive', async () => {
    expect(reviewed(first)).toHaveLength(4)
    expect(first.said).toContain('4 drives, 4 to review')
    expect(first.said).toContain('4 drives of one log that lies alone in its folder')
    const vehicle = await readVehicleFile(join(logs, 'juniper/vehicle.json'))
    const alone = reviewDrive(await openDrive([log(0)], { vehicle }), vehicle)
    const { key } = first.ends.find(({ name }) => name.includes('drive-000'))!
    expect(readFileSync(reviewPath(out, key), 'utf8')).toBe(toJson(alone))
    // Nothing says stop, start and pedal were not seen: as `review` of each would end.
    expect(first.exit).toBe(3)
  })

  test('a second run reviews nothing, and leaves every byte as it was', async () => {
    const sums = () =>
      execFileSync('sh', ['-c', `find ${out} -type f -print0 | sort -z | xargs -0 sha256sum`])
    const before = sums()
    expect(reviewed(await batch())).toEqual([])
    expect(sums().equals(before)).toBe(true)
  })

  // Outside the project: DuckDB's reader of Hive partitions.
  test('DuckDB reads the data set: partitions, units in the metadata, every figure as the review has it', async () => {
    const glob = (table: string) => `${out}/data/${table}/*/*/*/*.parquet`
    const kits = await duck(
      `select kit, car, drive, verdict from read_parquet('${glob('drives')}', hive_partitioning=true) order by drive`,
    )
    expect(kits).toEqual(
      readRecords(out).map(({ key, car, verdict }) => ({
        kit: car === 'Teasel' ? 'Kit B/2 = "long"' : 'Kit A',
        car,
        drive: key,
        verdict,
      })),
    )
    const { key } = first.ends[0]!
    const review = JSON.parse(readFileSync(reviewPath(out, key), 'utf8'))
    for (const table of reviewTables(review, { pack: { cells: 6 } })) {
      const rows = await duck(
        `select * exclude (kit, car, drive) from read_parquet('${glob(table.name)}', hive_partitioning=true) where drive = '${key}'`,
      )
      expect(rows).toHaveLength(table.rows)
      for (const { note, slice } of table.columns)
        expect(
          rows.map((row) => row[note.name]),
          `${table.name}.${note.name}`,
        ).toEqual([...slice(0, table.rows)])
    }
    const [unit] = await duck(`select decode(value) as value
      from parquet_kv_metadata('${glob('cells')}') where decode(key) = 'columns' limit 1`)
    expect(JSON.parse(unit!.value as string)).toContainEqual({
      name: 'joint_extra_mohm_plus_minus',
      unit: 'mΩ',
    })
  })

  test('one log changed: one reviewed, and what was said of the old one is gone', async () => {
    appendFileSync(log(1), '30.0,55.0,22.99,40.0,3.840,3.841,3.842,3.843,3.844,3.845\n')
    const again = await batch()
    expect(reviewed(again)).toEqual(['night/sorrel/drive-001: log.csv'])
    expect(readRecords(out)).toHaveLength(4)
    const [{ n }] = (await duck(
      `select count(*)::int as n from read_parquet('${out}/data/drives/*/*/*/*.parquet')`,
    )) as [{ n: number }]
    expect(n).toBe(4)
  })

  test('another vehicle file: its car’s drives again, under their new car', async () => {
    writeFileSync(join(logs, 'teasel/vehicle.json'), JSON.stringify({ name: 'Teasel', pack: { cells: 6 } }))
    expect(reviewed(await batch())).toEqual(['night/teasel/drive-002: log.csv'])
    const rows = await duck(
      `select car, kit from read_parquet('${out}/data/drives/*/*/*/*.parquet', hive_partitioning=true) where car = 'Teasel'`,
    )
    expect(rows).toEqual([{ car: 'Teasel', kit: null }])
  })

  test('logs that cannot be read are a result: said, exit 2, and not tried again', async () => {
    const folder = join(logs, 'odd')
    mkdirSync(folder)
    writeFileSync(join(folder, 'photo.csv'), Buffer.from([0xff, 0xd8, 0xff, 0xe0, 0, 0x10, 0x4a, 0x46]))
    const ran = await batch()
    expect(ran.exit).toBe(2)
    const [bad] = ran.ends.filter(({ state }) => state === 'refused')
    expect(bad!.sentence).toMatch(/^photo\.csv: /)
    const again = await batch()
    expect(again.exit).toBe(2)
    expect(reviewed(again)).toEqual([])
    rmSync(folder, { recursive: true })
  })

  test('the same logs at two places are one drive', async () => {
    mkdirSync(join(logs, 'copy'))
    writeFileSync(join(logs, 'copy/log.csv'), readFileSync(log(0)))
    const ran = await batch()
    expect(ran.ends).toHaveLength(4)
    expect(ran.said).toContain('the same logs as')
    rmSync(join(logs, 'copy'), { recursive: true })
  })

  test('a list of groups says which logs are one drive', async () => {
    const folder = join(root, 'pieces')
    mkdirSync(folder)
    for (const n of [1, 2]) writeFileSync(join(folder, `piece-${n}.csv`), tinyLog(900 + n))
    const list = join(root, 'groups.json')
    writeFileSync(list, JSON.stringify([{ logs: ['pieces/piece-1.csv', 'pieces/piece-2.csv'] }]))
    const ran = await batch({ groups: list }, folder)
    expect(ran.ends.map(({ logs }) => logs.map(({ name }) => name))).toEqual([['piece-1.csv', 'piece-2.csv']])
    expect(ran.said).toContain('as the list of groups says')
  })
})

/** As it is built: threads cannot load the sources. */
const CLI = join(import.meta.dirname, '../../dist/src/cli.js')

test.skipIf(!existsSync(CLI))('two threads take five drives, each thread one after the other', () => {
  const folder = join(root, 'five')
  writeTinyDrives(folder, 5)
  const results = join(root, 'five-results')
  const run = spawnSync(process.execPath, [CLI, 'batch', folder, '--out', results, '--cores', '2'], {
    encoding: 'utf8',
    timeout: 50_000,
  })
  expect(run.stdout).toContain('5 drives: 5 reviewed, 0 as before;')
  expect(run.status).toBe(3)
  expect(readRecords(results)).toHaveLength(5)
})

test('names of kit and car that a path cannot hold are written as Hive does', () => {
  expect(partitionOf('a/b=c%', '..', 'd1')).toBe('kit=a%2Fb%3Dc%25/car=%2E%2E/drive=d1')
  expect(partitionOf(undefined, ' ', 'd1')).toBe(
    'kit=__HIVE_DEFAULT_PARTITION__/car=__HIVE_DEFAULT_PARTITION__/drive=d1',
  )
})

/** A disk of a few MB of its own; only root may mount one. */
const disk = join(root, 'disk')
function mounted(): boolean {
  mkdirSync(disk)
  try {
    execFileSync('mount', ['-t', 'tmpfs', '-o', 'size=2m', 'tmpfs', disk], { stdio: 'ignore' })
    return true
  } catch {
    return false
  }
}
const hasDisk = mounted()

describe.skipIf(!hasDisk)('a full disk', () => {
  test('stops with a sentence, keeps nothing by half, and goes on when there is room', async () => {
    try {
      const ballast = join(disk, 'ballast')
      const free = 1024 * 1024 * 2 - 220 * 1024
      writeFileSync(ballast, Buffer.alloc(free))
      const results = join(disk, 'results')
      await expect(batch({ out: results, wait: '0' })).rejects.toThrow(
        /results: the disk is full; \d of 4 drives are stored\. Make room and run the same command again: it goes on from there\.$/,
      )
      const stored = readRecords(results).length
      expect(stored).toBeLessThan(4)
      // What is there is whole: no table without its record.
      const keys = readRecords(results).map(({ key }) => key)
      const tables = readdirSync(join(results, 'data'), { recursive: true, encoding: 'utf8' })
      const parts = new Set(tables.flatMap((path) => /drive=(\w+)/.exec(path)?.[1] ?? []))
      expect([...parts].sort()).toEqual(keys)
      // Room comes while it waits: it goes on by itself.
      const waiting = batch({ out: results, wait: '30' })
      setTimeout(() => rmSync(ballast), 700)
      const ran = await waiting
      expect(ran.said).toMatch(/the disk is full: \d of \d drives are stored, the rest waits for room\./)
      expect(ran.said).toContain('There is room again: going on.')
      expect(reviewed(ran)).toHaveLength(4 - stored)
      expect(readRecords(results)).toHaveLength(4)
    } finally {
      execFileSync('umount', [disk])
    }
  })
})
