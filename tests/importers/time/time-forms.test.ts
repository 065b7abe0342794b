import { describe, expect, test } from 'vitest'
import type { RawLog } from '../../../shared/raw-log.ts'
import { readWideCsv } from '../../../src/importers/table/wide-csv.ts'
import { logFromBytes } from '../../helpers/log-from-bytes.ts'

const read = (text: string): Promise<RawLog> => readWideCsv(logFromBytes('log.csv', text))
const rows = (count: number, row: (i: number) => string): string =>
  `${Array.from({ length: count }, (_, i) => row(i)).join('\n')}\n`
const two = (n: number): string => String(n).padStart(2, '0')
const clock = (s: number): string =>
  `${two(Math.floor(s / 3600) % 24)}:${two(Math.floor(s / 60) % 60)}:${two(s % 60)}`

/** Header and stamp of row i; own time of rows 0 and 30; start. */
const FORMS: readonly (readonly [
  what: string,
  header: string,
  stamp: (i: number) => string,
  first: number,
  at30: number,
  started: string | null,
])[] = [
  ['seconds of the minute', 'time [s]', (i) => `${(50 + i / 2) % 60}`, 50, 65, null],
  ['seconds', 'Time [s]', (i) => (61.121 + i / 100).toFixed(3), 61.121, 61.421, null],
  ['milliseconds by name', 'time_ms', (i) => `${i * 50}`, 0, 1.5, null],
  ['milliseconds in camel case', 'timeMs', (i) => `${i * 2.5}`, 0, 0.075, null],
  ['milliseconds since boot', 'time_boot_ms', (i) => `${i * 4}`, 0, 0.12, null],
  ['milliseconds by their steps', 'time', (i) => `${i * 50}`, 0, 1.5, null],
  ['microseconds', 'timestamp (µs)', (i) => `${i * 10_000}`, 0, 0.3, null],
  [
    'ISO 8601 with zone',
    'timestamp',
    (i) => `2026-03-14T09:12:${two(i)}.500+01:00`,
    0,
    30,
    '2026-03-14T09:12:00.500+01:00',
  ],
  ['ISO 8601 in UTC', 'timestamp', (i) => `2026-03-14T09:12:${two(i)}Z`, 0, 30, '2026-03-14T09:12:00.000Z'],
  [
    'date and time, blank between',
    'Timestamp',
    (i) => `2026-03-14 09:12:${two(i)}.250`,
    0,
    30,
    '2026-03-14T09:12:00.250',
  ],
  [
    'date and time, decimal comma',
    'Timestamp',
    (i) => `"2026-03-14 09:12:${two(i)},250"`,
    0,
    30,
    '2026-03-14T09:12:00.250',
  ],
  [
    'day first with dots',
    'Zeitstempel',
    (i) => `14.03.2026 09:12:${two(i)}`,
    0,
    30,
    '2026-03-14T09:12:00.000',
  ],
  [
    'month first, told by the day',
    'Date/Time',
    (i) => `03/14/2026 09:12:${two(i)}`,
    0,
    30,
    '2026-03-14T09:12:00.000',
  ],
  ['milliseconds in Dutch', 'Tijd [ms]', (i) => `${i * 100}`, 0, 3, null],
  ['seconds in Italian', 'Tempo [s]', (i) => `${i / 10}`, 0, 3, null],
  ['clock alone past midnight', 'Time', (i) => clock(86_390 + i), 0, 30, null],
  ['unix seconds', 'time', (i) => (1_773_479_553.1 + i / 10).toFixed(1), 0, 3, '2026-03-14T09:12:33.100Z'],
  ['unix milliseconds', 'epoch', (i) => `${1_773_479_553_000 + i * 100}`, 0, 3, '2026-03-14T09:12:33.000Z'],
  [
    'a 16-bit counter of ms that wraps',
    'timestamp_ms',
    (i) => `${(65_400 + i * 10) % 65_536}`,
    65.4,
    65.7,
    null,
  ],
  [
    'a 32-bit counter of ms that wraps',
    'tick_ms',
    (i) => `${(4_294_967_200 + i * 10) % 2 ** 32}`,
    4_294_967.2,
    4_294_967.5,
    null,
  ],
]

describe('time forms', () => {
  for (const [what, header, stamp, first, at30, started] of FORMS)
    test(what, async () => {
      const log = await read(
        `${header},Pack voltage [V],Pack current [A]\n${rows(40, (i) => `${stamp(i)},370.5,${i}`)}`,
      )
      const { timeS } = log.series[0]!
      expect(timeS).toHaveLength(40)
      expect(timeS[0]).toBeCloseTo(first, 6)
      expect(timeS[30]).toBeCloseTo(at30, 6)
      expect(log.startedAt).toBe(started)
      expect(log.skipped).toEqual([])
    })

  test('date and time in two columns, over midnight', async () => {
    const log = await read(
      `Date,Time,Pack voltage [V]\n${rows(40, (i) => `${86_390 + i < 86_400 ? '14/03/2026' : '15/03/2026'},${clock((86_390 + i) % 86_400)},370`)}`,
    )
    expect(log.series).toHaveLength(1)
    expect(log.series[0]!.timeS[39]).toBe(39)
    expect(log.startedAt).toBe('2026-03-14T23:59:50.000')
    expect(log.clockSteps).toEqual([])
  })

  test('a fine counter beside a coarse stamp: the counter times the rows, the stamp gives the date', async () => {
    const log = await read(
      `Timestamp,Time [s],Pack voltage [V]\n${rows(40, (i) => `2026-03-14 09:12:${two(Math.floor(i / 10))},${(i / 10).toFixed(1)},370`)}`,
    )
    expect(log.series.map((each) => each.name)).toEqual(['Pack voltage [V]'])
    expect(log.series[0]!.timeS[39]).toBe(3.9)
    expect(log.startedAt).toBe('2026-03-14T09:12:00.000')
  })

  test('a row number is no time', async () => {
    await expect(
      read(`No.,Pack voltage [V],Pack current [A]\n${rows(20, (i) => `${i},370,${i}`)}`),
    ).rejects.toThrow(/names no time column/)
  })

  test('no time column but a stated rate', async () => {
    const log = await read(
      `Sample rate: 20 Hz\nPack voltage [V],Pack current [A]\n${rows(20, (i) => `${370 - (i % 3)},${(i * 7) % 5}`)}`,
    )
    expect([...log.series[0]!.timeS.subarray(0, 3)]).toEqual([0, 0.05, 0.1])
    expect(log.notes!.join()).toMatch(/20 Hz that the preamble states/)
  })

  test('stamps coarser than rows are spread evenly', async () => {
    const log = await read(
      `timestamp,Pack voltage [V]\n${rows(100, (i) => `2026-03-14 09:12:${two(Math.floor(i / 10))},37${i % 10}`)}`,
    )
    const { timeS } = log.series[0]!
    for (let i = 0; i < 100; i++) expect(timeS[i]).toBeCloseTo(i / 10, 6)
    expect(log.notes!.join()).toMatch(/spread evenly/)
  })
})

describe('a clock that is not sound', () => {
  const steady = (from: number, count: number): string =>
    rows(count, (i) => `${(from + i / 10).toFixed(1)},370`)

  test('late rows and repeated stamps are left out, counted', async () => {
    const text = `time,Pack voltage [V]\n${steady(0, 20)}1.2,371\n1.3,371\n${steady(2, 20)}3.9,372\n${steady(4, 20)}`
    const log = await read(text)
    expect(log.skipped.map((each) => [each.what, each.count, each.first])).toEqual([
      ['rows whose time goes back', 2, 'line 22'],
      ['rows whose time is the row before', 1, 'line 44'],
    ])
    expect(log.series[0]!.timeS).toHaveLength(60)
    for (let i = 1; i < 60; i++) expect(log.series[0]!.timeS[i]).toBeGreaterThan(log.series[0]!.timeS[i - 1]!)
  })

  test('one stamp far ahead of its neighbours costs its row only', async () => {
    const log = await read(`time,Pack voltage [V]\n${steady(0, 20)}99999.0,371\n${steady(2.1, 20)}`)
    expect(log.skipped.map((each) => [each.what, each.count])).toEqual([
      ['rows whose time jumps ahead alone', 1],
    ])
    expect(log.series[0]!.timeS[39]).toBeCloseTo(4, 9)
  })

  test('a restart from zero goes on after one period, and is told', async () => {
    const log = await read(`time,Pack voltage [V]\n${steady(800, 60)}${steady(0, 60)}`)
    expect(log.clockSteps).toHaveLength(1)
    expect(log.clockSteps[0]!.why).toMatch(/started again from zero/)
    const { timeS } = log.series[0]!
    expect(timeS[60]! - timeS[59]!).toBeCloseTo(0.1, 6)
  })

  test('daylight saving and a clock set late', async () => {
    const dst = await read(
      `timestamp,Pack voltage [V]\n${rows(30, (i) => `2026-10-25 02:59:${two(30 + i)},370`)}${rows(30, (i) => `2026-10-25 02:00:${two(i)},370`)}`,
    )
    expect(dst.clockSteps.map((step) => step.step_s)).toEqual([-3600])
    expect(dst.series[0]!.timeS[59]).toBe(59)
    const late = await read(
      `timestamp,Pack voltage [V]\n${rows(30, (i) => `1970-01-01 00:00:${two(i)},370`)}${rows(30, (i) => `2026-10-25 02:00:${two(i)},370`)}`,
    )
    expect(late.clockSteps).toHaveLength(1)
    expect(late.startedAt).toBe('2026-10-25T01:59:30.000')
    expect(late.series[0]!.timeS[59]).toBe(59)
  })
})
