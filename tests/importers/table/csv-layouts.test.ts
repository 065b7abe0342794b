import { describe, expect, test } from 'vitest'
import type { RawLog } from '../../../shared/raw-log.ts'
import { isLongCsv, readLongCsv } from '../../../src/importers/table/long-csv.ts'
import { readWideCsv } from '../../../src/importers/table/wide-csv.ts'
import { logFromBytes } from '../../helpers/log-from-bytes.ts'

const COUNT = 40
const ROWS = Array.from({ length: COUNT }, (_, i) => [
  (i / 10).toFixed(1),
  (370 - i / 10).toFixed(1),
  (-20 + i * 1.5).toFixed(1),
  (20 + i / 20).toFixed(2),
])
const HEADER = ['Time [s]', 'Pack voltage [V]', 'Pack current [A]', 'Motor temp [°C]']
const csv = (delimiter: string, decimal: string, end = '\n', header = HEADER): string =>
  [header, ...ROWS]
    .map((row, at) => row.map((field) => (at === 0 ? field : field.replace('.', decimal))).join(delimiter))
    .join(end) + end
const latin1 = (text: string): Uint8Array => Buffer.from(text, 'latin1')
const utf16 = (text: string, swap: boolean): Uint8Array => {
  const bytes = Buffer.from(`\ufeff${text}`, 'utf16le')
  return swap ? bytes.swap16() : bytes
}

const expected = ROWS.map((row) => row.slice(1).map(Number))
function check(log: RawLog): void {
  expect(log.series.map((each) => each.unit)).toEqual(['V', 'A', '°C'])
  for (let c = 0; c < 3; c++) {
    expect([...log.series[c]!.timeS]).toEqual(ROWS.map((row) => Number(row[0])))
    expect([...log.series[c]!.values]).toEqual(expected.map((row) => row[c]))
  }
  expect(log.skipped).toEqual([])
}

describe('one table, however it is written', () => {
  const forms: readonly (readonly [string, string | Uint8Array])[] = [
    ['commas', csv(',', '.')],
    ['semicolons and decimal commas', csv(';', ',')],
    ['semicolons and points', csv(';', '.')],
    ['tabs and decimal commas', csv('\t', ',')],
    ['CR LF', csv(',', '.', '\r\n')],
    ['CR alone', csv(',', '.', '\r')],
    ['UTF-8 with its mark', `\ufeff${csv(',', '.')}`],
    ['Latin-1', latin1(csv(';', ','))],
    ['UTF-16, little end first', utf16(csv(';', ','), false)],
    ['UTF-16, big end first', utf16(csv('\t', '.'), true)],
    [
      'every field in quotes',
      csv(',', '.')
        .split('\n')
        .map((line) =>
          line === ''
            ? ''
            : line
                .split(',')
                .map((field) => `"${field}"`)
                .join(','),
        )
        .join('\n'),
    ],
    [
      'decimal commas in quotes between commas',
      [
        HEADER.join(','),
        ...ROWS.map((row) => row.map((field) => `"${field.replace('.', ',')}"`).join(',')),
      ].join('\n'),
    ],
    [
      'preamble, units row',
      `Aftermile bench;Juniper\nOperator: none\n\nTime;Pack voltage;Pack current;Motor temp\ns;V;A;°C\n${csv(';', ',').split('\n').slice(1).join('\n')}`,
    ],
    [
      'units row in brackets',
      `Time,Pack voltage,Pack current,Motor temp\n[s],[V],[A],[°C]\n${csv(',', '.').split('\n').slice(1).join('\n')}`,
    ],
    ['trailing delimiters', csv(',', '.').replaceAll('\n', ',\n')],
    ['blank lines between', csv(',', '.').replaceAll('\n1.', '\n\n1.')],
  ]
  for (const [what, text] of forms)
    test(what, async () => {
      for (const chunkBytes of [7, 1 << 20])
        check(await readWideCsv(logFromBytes('log.csv', text, chunkBytes)))
    })
})

describe('fields', () => {
  test('an empty field is no sample; columns read in the same rows share one time array', async () => {
    const rows = Array.from({ length: 20 }, (_, i) => `${i / 10},${i},${i % 5 === 0 ? `${i},${i + 1}` : ','}`)
    const log = await readWideCsv(logFromBytes('log.csv', `time,a,b,c\n${rows.join('\n')}\n`))
    const [a, b, c] = log.series
    expect(a!.timeS).toHaveLength(20)
    expect([...b!.timeS]).toEqual([0, 0.5, 1, 1.5])
    expect([...b!.values]).toEqual([0, 5, 10, 15])
    expect(b!.timeS).toBe(c!.timeS)
    expect(a!.timeS).not.toBe(b!.timeS)
  })

  test('"NaN" that fills a slow column is an empty field; a lone one is a reading without value', async () => {
    const rows = Array.from(
      { length: 30 },
      (_, i) => `${i / 10},${i % 5 === 0 ? i : 'nan'},${i === 7 ? 'N/A' : i}`,
    )
    const log = await readWideCsv(logFromBytes('log.csv', `time,slow,fast\n${rows.join('\n')}\n`))
    expect(log.series[0]!.timeS).toHaveLength(6)
    expect(log.series[1]!.timeS).toHaveLength(30)
    expect(log.series[1]!.values[7]).toBeNaN()
    expect(log.skipped.map((each) => [each.count, each.first])).toEqual([[1, 'line 9: "N/A"']])
  })

  test('rows that begin with nothing but their time are rows; a header behind # is a header', async () => {
    const rows = Array.from(
      { length: 300 },
      (_, i) => `${i / 100},${i < 250 ? '' : 370},${i === 100 ? 'READY' : ''}`,
    )
    const log = await readWideCsv(
      logFromBytes('log.csv', `# of a drive\n#time,Pack voltage,State\ns,V,\n${rows.join('\n')}\n`),
    )
    expect(log.rows).toBe(300)
    expect(log.series.map((each) => [each.name, each.unit, each.timeS.length])).toEqual([
      ['Pack voltage', 'V', 50],
      ['State', null, 1],
    ])
    expect(log.series[1]!.timeS[0]).toBe(1)
  })

  test('names that repeat take the words above them', async () => {
    const rows = Array.from({ length: 20 }, (_, i) => `${i / 10},370,${i},365,${i}`)
    const log = await readWideCsv(
      logFromBytes(
        'log.csv',
        `,Pack,,Charger,\ntime [s],Voltage [V],Current [A],Voltage [V],Current [A]\n${rows.join('\n')}\n`,
      ),
    )
    expect(log.series.map((each) => each.name)).toEqual([
      'Pack Voltage [V]',
      'Pack Current [A]',
      'Charger Voltage [V]',
      'Charger Current [A]',
    ])
  })

  test('boxes of unequal size: what is counted alike takes the words above it too, repeated or not', async () => {
    const rows = Array.from({ length: 20 }, (_, i) => `${i / 10},3700,3701,3702,3703,3704`)
    const log = await readWideCsv(
      logFromBytes(
        'log.csv',
        `,Front,,,Rear,\ntime [s],Cell 1,Cell 2,Cell 3,Cell 1,Cell 2\n${rows.join('\n')}\n`,
      ),
    )
    expect(log.series.map((each) => each.name)).toEqual([
      'Front Cell 1',
      'Front Cell 2',
      'Front Cell 3',
      'Rear Cell 1',
      'Rear Cell 2',
    ])
  })

  test('temp_f is °F, unless temp_r beside it makes it the front; a bound counts at the bound', async () => {
    const rows = Array.from({ length: 30 }, (_, i) => `${i / 10},${70 + i},${20 + i},${21 + i},>5000`)
    const log = await readWideCsv(
      logFromBytes('log.csv', `time,motor_temp_f,wheel_temp_f,wheel_temp_r,iso_kohm\n${rows.join('\n')}\n`),
    )
    expect(log.series.map((each) => each.unit)).toEqual(['°F', null, null, 'kohm'])
    expect(log.series[3]!.values[0]).toBe(5000)
    expect(log.skipped[0]!.what).toMatch(/bounds .* taken as the value/)
  })

  test('words become labels, units beside values are read, names are made different', async () => {
    const rows = Array.from(
      { length: 30 },
      (_, i) => `${i / 10},${i < 10 ? 'WAIT' : 'READY'},${(12 + i / 100).toFixed(2)} V,${i},${-i}`,
    )
    const log = await readWideCsv(logFromBytes('log.csv', `time,State,Supply,T,T\n${rows.join('\n')}\n`))
    expect(log.series[0]!.labels).toEqual(['WAIT', 'READY'])
    expect(log.series[0]!.values[20]).toBe(1)
    expect(log.series[1]!.unit).toBe('V')
    expect(log.series[1]!.values[5]).toBe(12.05)
    expect(log.series.map((each) => each.name)).toEqual(['State', 'Supply', 'T', 'T (2)'])
  })
})

describe('a row a sample', () => {
  const sample = (i: number): string[] => {
    const t = (i / 10).toFixed(2)
    return [
      `${t},Pack voltage,${370 - i},V`,
      `${t},Pack current,${i},A`,
      ...(i % 5 === 0 ? [`${t},BMS state,${i < 20 ? 'WAIT' : 'READY'},`] : []),
    ]
  }
  const byTime = Array.from({ length: 40 }, (_, i) => sample(i)).flat()
  const text = (lines: readonly string[]): string => `Time [s],Channel,Value,Unit\n${lines.join('\n')}\n`

  test('in order of time', async () => {
    expect(isLongCsv(new TextEncoder().encode(text(byTime)))).toBe(true)
    const log = await readLongCsv(logFromBytes('log.csv', text(byTime), 11))
    expect(log.series.map((each) => [each.name, each.unit, each.timeS.length])).toEqual([
      ['Pack voltage', 'V', 40],
      ['Pack current', 'A', 40],
      ['BMS state', null, 8],
    ])
    expect(log.series[0]!.timeS).toBe(log.series[1]!.timeS)
    expect(log.series[2]!.labels).toEqual(['WAIT', 'READY'])
    expect([...log.series[2]!.values]).toEqual([0, 0, 0, 0, 1, 1, 1, 1])
  })

  test('sorted by name: each name starts its time anew, no clock stepped', async () => {
    const sorted = [...byTime].sort((a, b) => a.split(',')[1]!.localeCompare(b.split(',')[1]!, 'en'))
    const log = await readLongCsv(logFromBytes('log.csv', text(sorted)))
    expect(log.clockSteps).toEqual([])
    const pack = log.series.find((each) => each.name === 'Pack voltage')!
    expect(pack.timeS[39]).toBe(3.9)
    expect(pack.values[39]).toBe(331)
  })

  test('a wide table with a state in words stays wide', () => {
    const wide = `time,State,Pack voltage [V]\n${Array.from({ length: 30 }, (_, i) => `${i},${i < 9 ? 'WAIT' : 'READY'},370`).join('\n')}\n`
    expect(isLongCsv(new TextEncoder().encode(wide))).toBe(false)
  })
})
