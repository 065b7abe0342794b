import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { parse } from 'csv-parse/sync'
import { beforeAll, describe, expect, test } from 'vitest'
import type { Channel, Drive } from '../../shared/drive.ts'
import type { ColumnNote } from '../../shared/drive-file.ts'
import { openDrive } from '../../src/open/open-drive.ts'
import { readVehicleFile } from '../../src/open/vehicle-file.ts'
import { channelTable } from '../../src/out/channel-table.ts'
import { writeDriveFile, writeOut, writeTable } from '../../src/out/write-out.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { duck } from '../helpers/duck.ts'
import { oddDrive } from '../helpers/odd-drive.ts'

const folder = mkdtempSync(join(tmpdir(), 'aftermile-out-'))
const SAMPLES = join(import.meta.dirname, '../../sample-logs')

/** The bits, so that −0 is not 0 and NaN is NaN. */
const bits = (values: Float64Array): string =>
  Buffer.from(
    Float64Array.from(values, (value) => (Number.isNaN(value) ? Number.NaN : value)).buffer,
  ).toString('base64')

function same(got: readonly Channel[], want: readonly Channel[]): void {
  expect(got.map(({ id }) => id)).toEqual(want.map(({ id }) => id))
  got.forEach((channel, at) => {
    const { timeS, values, ...rest } = channel
    const { timeS: wantS, values: wantValues, ...wantRest } = want[at]!
    expect(rest, channel.id).toEqual(wantRest)
    expect(bits(timeS), channel.id).toBe(bits(wantS))
    expect(bits(values), channel.id).toBe(bits(wantValues))
  })
}

function sameDrive(got: Drive, want: Drive): void {
  same([...got.channels.values()], [...want.channels.values()])
  same(got.spares, want.spares)
  const { channels: _, spares: __, vehicle: ___, assumptions, ...frame } = got
  const { channels: ____, spares: _____, assumptions: wanted, ...wantFrame } = want
  expect(frame).toEqual(wantFrame)
  expect(assumptions.slice(0, -1)).toEqual(wanted)
  expect(assumptions.at(-1)).toContain('its channels were read as aftermile')
  // Channels read together are read together again.
  const bases = (drive: Drive) => new Set([...drive.channels.values()].map(({ timeS }) => timeS)).size
  expect(bases(got)).toBe(bases(want))
}

const odd = oddDrive()
const oddFile = join(folder, 'odd.parquet')

/** The samples of one channel as DuckDB reads them: rows where it has one, in the file's order. */
async function fromDuck(file: string, column: string): Promise<{ time: number; value: unknown }[]> {
  const name = `"${column.replaceAll('"', '""')}"`
  return (await duck(
    `select "time" as time, ${name} as value from read_parquet('${file}') where ${name} is not null`,
  )) as { time: number; value: unknown }[]
}

describe('Parquet', () => {
  beforeAll(() => writeDriveFile(oddFile, odd, { name: 'Juniper', record: { customer: 'A. Customer' } }))

  test('a drive comes back as it was, to the last bit', async () => {
    const back = await openDrive([oddFile])
    sameDrive(back, odd)
    expect(back.vehicle).toEqual({ name: 'Juniper' })
    expect(readFileSync(oddFile).includes('Customer')).toBe(false)
  })

  // Outside the project: DuckDB's own Parquet reader.
  test('DuckDB reads every channel exactly: value, moment, what is missing and what is NaN', async () => {
    const { stored } = channelTable(odd)
    const all = [...odd.channels.values(), ...odd.spares]
    for (const [at, { column }] of stored.entries()) {
      const channel = all[at]!
      const rows = await fromDuck(oddFile, column)
      expect(bits(Float64Array.from(rows, ({ time }) => time)), column).toBe(bits(channel.timeS))
      if (channel.labels)
        expect(rows.map(({ value }) => value)).toEqual([...channel.values].map((v) => channel.labels![v]))
      else
        expect(bits(Float64Array.from(rows, ({ value }) => value as number)), column).toBe(
          bits(channel.values),
        )
    }
  })

  test('DuckDB reads the metadata as written: unit, source column, sureness', async () => {
    const entries = await duck(`select key::varchar as key, decode(value) as value
      from parquet_kv_metadata('${oddFile}')`)
    const columns = JSON.parse(entries.find(({ key }) => key === 'columns')!.value as string) as ColumnNote[]
    const report = odd.reports.find(({ id }) => id === 'lv_voltage')!
    expect(columns.find(({ name }) => name === 'lv_voltage')).toEqual({
      name: 'lv_voltage',
      unit: 'V',
      about: '12 V system',
      channel: 'lv_voltage',
      file: 'box, two.csv',
      from: 'U12',
      unit_in: report.unit_in,
      conversion: report.conversion,
      sureness: report.sureness,
    })
    expect(columns.map(({ unit }) => unit)).not.toContain(undefined)
    const schema = await duck(`select name from parquet_schema('${oddFile}')`)
    expect(schema.slice(1).map(({ name }) => name)).toEqual(columns.map(({ name }) => name))
  })

  test('the same drive gives the same bytes', async () => {
    const again = join(folder, 'again.parquet')
    await writeDriveFile(again, odd, { name: 'Juniper' })
    expect(readFileSync(again).equals(readFileSync(oddFile))).toBe(true)
  })

  test('a sample of two logs, captures among them, comes back from the one file with its vehicle', async () => {
    const at = (name: string) => join(SAMPLES, 'teasel', name)
    const vehicle = await readVehicleFile(at('vehicle.json'))
    const drive = await openDrive([at('battery.csv.gz'), at('vehicle.pcap.gz')], {
      signals: at('signals.json'),
      vehicle,
    })
    const file = join(folder, 'teasel.parquet')
    await writeDriveFile(file, drive, vehicle)
    const back = await openDrive([file])
    sameDrive(back, drive)
    // A review is made of nothing else.
    expect(back.vehicle).toEqual({ ...vehicle, record: undefined })
  })

  test('a damaged file is one sentence that names it', async () => {
    const whole = readFileSync(oddFile)
    const cut = join(folder, 'cut.parquet')
    for (const bytes of [
      whole.subarray(0, 4),
      whole.subarray(0, whole.length >> 1),
      whole.subarray(0, -20),
    ]) {
      writeFileSync(cut, bytes)
      await expect(openDrive([cut])).rejects.toThrow(/^cut\.parquet: the Parquet file is damaged \(/)
    }
  })

  test('a table of a review is no log, and that is said', async () => {
    const out = join(folder, 'tables')
    await writeOut(out, 'parquet', { drive: odd, review: reviewDrive(odd, {}), vehicle: {} })
    await expect(openDrive([join(out, 'cells.parquet')])).rejects.toThrow(/a table of cells, no log/)
  })
})

describe('text', () => {
  // Outside the project: csv-parse, a reader of RFC 4180.
  test('csv-parse reads every channel exactly from the CSV, names and units above', async () => {
    const file = join(folder, 'odd.csv')
    const { table, stored } = channelTable(odd)
    await writeTable(file, 'csv', table)
    const [names, units, ...rows] = parse(readFileSync(file, 'utf8'), {
      record_delimiter: '\r\n',
    }) as string[][]
    const all = [...odd.channels.values(), ...odd.spares]
    stored.forEach(({ column, unit, as, labels }, at) => {
      const c = names!.indexOf(column.startsWith('=') ? `'${column}` : column)
      expect(units![c]).toBe(unit)
      const held = rows.filter((row) => row[c] !== '')
      expect(bits(Float64Array.from(held, (row) => Number(row[0]))), column).toBe(bits(all[at]!.timeS))
      if (as === 'label')
        // A spreadsheet would take "=on" for a formula: it has an apostrophe before it.
        expect(held.map((row) => row[c]!.replace(/^'=/, '='))).toEqual(
          [...all[at]!.values].map((v) => labels![v]),
        )
      else expect(bits(Float64Array.from(held, (row) => Number(row[c]))), column).toBe(bits(all[at]!.values))
    })
  })

  test('JSON gives the same rows; what is not finite is null', async () => {
    const file = join(folder, 'odd.json')
    const { table } = channelTable(odd)
    await writeTable(file, 'json', table)
    const json = JSON.parse(readFileSync(file, 'utf8')) as { columns: ColumnNote[]; rows: unknown[][] }
    expect(json.columns).toEqual(table.columns.map(({ note }) => note))
    const c = json.columns.findIndex(({ name }) => name === 'lv_voltage')
    const held = json.rows.filter((row) => row[c] !== null)
    expect(bits(Float64Array.from(held, (row) => row[c] as number))).toBe(
      bits(odd.channels.get('lv_voltage')!.values),
    )
  })
})
