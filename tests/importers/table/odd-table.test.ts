import { describe, expect, test } from 'vitest'
import type { RawLog } from '../../../shared/raw-log.ts'
import { readLog } from '../../../src/importers/registry.ts'
import { oddTable } from '../../../src/importers/table/odd-table.ts'
import { logFromBytes } from '../../helpers/log-from-bytes.ts'

const read = (text: string, chunk?: number): Promise<RawLog> => readLog(logFromBytes('log', text, chunk), {})
const rows = (row: (i: number) => string): string =>
  `${Array.from({ length: 50 }, (_, i) => row(i)).join('\n')}\n`

describe('tables that are a CSV but for one thing', () => {
  test.each([1 << 20, 7, 1])('columns parted by runs of blanks, in chunks of %i bytes', async (chunk) => {
    const log = await read(
      `   Time [s]   Pack voltage [V]   Speed [km/h]\n${rows((i) => `      ${(i / 10).toFixed(1)}       ${350 - i}.0          ${i}.5`)}`,
      chunk,
    )
    expect(log.series.map(({ name, unit }) => [name, unit])).toEqual([
      ['Pack voltage [V]', 'V'],
      ['Speed [km/h]', 'km/h'],
    ])
    expect(log.series[0]!.timeS[30]).toBeCloseTo(3, 9)
    expect(log.series[1]!.values[30]).toBe(30.5)
  })

  test('single blanks, dates with a blank in them', async () => {
    const one = await read(
      `time pack_voltage speed\n${rows((i) => `${(i / 10).toFixed(1)} ${350 - i}.0 ${i}.5`)}`,
    )
    expect(one.series.map(({ name }) => name)).toEqual(['pack_voltage', 'speed'])
    const dated = await read(
      `Timestamp                  Pack voltage\n${rows((i) => `2026-03-04 09:00:${String(i).padStart(2, '0')}.000    ${350 - i}.0`)}`,
    )
    expect(dated.startedAt).toBe('2026-03-04T09:00:00.000')
    expect(dated.series[0]!.values[3]).toBe(347)
  })

  test('a row a sample without a header', async () => {
    const long = await read(
      rows((i) => `${(i / 10).toFixed(1)},pack_voltage,${350 - i}\n${(i / 10).toFixed(1)},speed,${i}`),
    )
    expect(long.layout).toBe('long CSV')
    expect(long.series.map(({ name, values }) => [name, values.length])).toEqual([
      ['pack_voltage', 50],
      ['speed', 50],
    ])
    const units = await read(
      rows(
        (i) =>
          `2026-03-04 09:00:${String(i).padStart(2, '0')};Pack voltage;${350 - i};V\n2026-03-04 09:00:${String(i).padStart(2, '0')};Speed;${i};km/h`,
      ),
    )
    expect(units.series.map(({ name, unit }) => [name, unit])).toEqual([
      ['Pack voltage', 'V'],
      ['Speed', 'km/h'],
    ])
  })

  test('a row a sample in Dutch', async () => {
    const log = await read(
      `Tijd [ms];Kanaal;Waarde;Eenheid\n${rows((i) => `${i * 100};Accuspanning;${350 - i},5;V\n${i * 100};Rijsnelheid;${i},0;km/h`)}`,
    )
    expect(log.series.map(({ name, unit, values }) => [name, unit, values[1]])).toEqual([
      ['Accuspanning', 'V', 349.5],
      ['Rijsnelheid', 'km/h', 1],
    ])
  })

  test('paths parted by bars, each channel once before any comes again', async () => {
    const log = await read(
      rows((i) =>
        Array.from({ length: 90 }, (_, c) => `${1946800000000 + i * 100}|bms/cell/${c + 1}|${3700 + c}`).join(
          '\n',
        ),
      ),
    )
    expect([log.layout, log.series.length, log.series[0]!.name]).toEqual(['long CSV', 90, 'bms/cell/1'])
    expect(log.startedAt).toBe('2031-09-10T09:46:40.000Z')
  })

  test('any other table stays as it is', () => {
    for (const text of [
      `time,a,b\n${rows((i) => `${i},1,2`)}`,
      `time;a b;c\n${rows((i) => `${i};1,5;2`)}`,
      rows((i) => `${i},1,2`),
      'words and more words\nand yet more of them\nthat are no table\nat all\nreally\n',
    ])
      expect(oddTable(new TextEncoder().encode(text))).toBeNull()
  })
})

test('a measurement file of a standard that is not read is named, with the step that helps', async () => {
  await expect(read('MDF     4.10    ')).rejects.toThrow(/ASAM MDF.*export it as CSV/)
  await expect(read('PAR1....')).rejects.toThrow(/Parquet/)
})
