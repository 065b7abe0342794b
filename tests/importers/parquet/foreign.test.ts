import { mkdtempSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import type { Drive } from '../../../shared/drive.ts'
import { openDrive } from '../../../src/open/open-drive.ts'
import { duck } from '../../helpers/duck.ts'
import { tinyLog } from '../../helpers/tiny-logs.ts'

/** Parquet as another program writes it (DuckDB, outside the project), against the same rows as CSV. */
const folder = mkdtempSync(join(tmpdir(), 'aftermile-parquet-'))
const csv = join(folder, 'tiny.csv')
writeFileSync(csv, tinyLog(7))

const samples = (drive: Drive) =>
  [...drive.channels.values()].map(({ id, unit, timeS, values }) => ({ id, unit, timeS, values }))

async function written(name: string, select: string, options = ''): Promise<string> {
  const path = join(folder, name)
  await duck('select 1', [`copy (${select}) to '${path}' (format parquet${options})`])
  return path
}

test.each(['snappy', 'gzip', 'brotli'])('a wide table packed with %s is what its CSV is', async (codec) => {
  const path = await written(`wide-${codec}.parquet`, `from read_csv('${csv}')`, `, codec ${codec}`)
  const drive = await openDrive([path])
  expect(samples(drive)).toEqual(samples(await openDrive([csv])))
  expect(drive.files[0]!.layout).toBe('Parquet, wide')
})

test('stamps to the microsecond, a text column, single precision and empty fields', async () => {
  const path = await written(
    'stamps.parquet',
    `select timestamptz '2026-11-27 08:00:00.000125+00' + to_milliseconds(i * 100) as "time",
       (350.1 + i / 10)::float as "Pack voltage [V]",
       case when i % 3 = 0 then 12.5 + i / 100 end as "12 V supply [V]",
       case when i < 30 then 'standby' else 'drive, ready' end as "inverter state"
     from range(60) t(i)`,
  )
  const drive = await openDrive([path])
  expect(drive.startedAt).toMatch(/^2026-11-27T08:00:00(\.0001?)?.*Z$/)
  const pack = drive.channels.get('pack_voltage')!
  expect([pack.values[0], pack.values[1], pack.values.length]).toEqual([350.1, 350.2, 60])
  expect(drive.channels.get('lv_voltage')!.values).toHaveLength(20)
  expect(drive.channels.get('inverter_state')!.labels).toEqual(['standby', 'drive, ready'])
})

test('a long table is what its CSV is', async () => {
  const select = `select * from (unpivot (from read_csv('${csv}')) on columns(* exclude "Time [s]") into name channel value value)
    order by "Time [s]", channel`
  const path = await written('long.parquet', select)
  const drive = await openDrive([path])
  expect(drive.files[0]!.layout).toBe('Parquet, long')
  const want = new Map(samples(await openDrive([csv])).map((each) => [each.id, each]))
  for (const each of samples(drive)) expect(each).toEqual(want.get(each.id))
})

test('pages packed by other means are named, with what to do', async () => {
  const path = await written('zstd.parquet', `from read_csv('${csv}')`, ', codec zstd')
  await expect(openDrive([path])).rejects.toThrow(
    'zstd.parquet: its pages are packed with ZSTD, which is not read; write it again packed with snappy or gzip.',
  )
})
