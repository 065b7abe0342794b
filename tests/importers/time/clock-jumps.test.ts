import { describe, expect, test } from 'vitest'
import type { RawLog } from '../../../shared/raw-log.ts'
import { buildDrive } from '../../../src/drive/build-drive.ts'
import { readWideCsv } from '../../../src/importers/table/wide-csv.ts'
import { reviewDrive } from '../../../src/review/review.ts'
import { logFromBytes } from '../../helpers/log-from-bytes.ts'

const N = 400
const values = (i: number): string =>
  `${(350 - 5 * Math.sin(i / 20)).toFixed(1)},${(50 * Math.sin(i / 20)).toFixed(1)}`
const HEADER = ',Pack voltage [V],Pack current [A]'
const csv = (
  head: string,
  stamp: (i: number) => string,
  order = Array.from({ length: N }, (_, i) => i),
): string => `${head}${HEADER}\n${order.map((i) => `${stamp(i)},${values(i)}`).join('\n')}\n`
const read = (text: string): Promise<RawLog> => readWideCsv(logFromBytes('log.csv', text))
const iso = (from: string, i: number): string =>
  new Date(Date.parse(`${from}Z`) + i * 100).toISOString().slice(0, -1).replace('T', ' ')

/** What the clock did in mid-log; step of the clock that is told, seconds; start. A log of 40 s at 10 Hz. */
const JUMPS: readonly (readonly [
  what: string,
  head: string,
  stamp: (i: number) => string,
  step: number,
  started: string | null,
])[] = [
  [
    'a counter jumps by 49.7 days',
    'Time [s]',
    (i) => (i / 10 + (i < 200 ? 0 : 4294967.296)).toFixed(3),
    4294967.296,
    null,
  ],
  [
    'a counter jumps by a year',
    'Time [s]',
    (i) => (i / 10 + (i < 200 ? 0 : 31_536_000)).toFixed(3),
    31_536_000,
    null,
  ],
  [
    'a counter starts again',
    'Time [s]',
    (i) => (i < 200 ? 500 + i / 10 : (i - 200) / 10).toFixed(3),
    -520,
    null,
  ],
  [
    'a counter becomes a date',
    'Time',
    (i) => (i < 200 ? 5 + i / 10 : 1_772_614_800 + i / 10).toFixed(3),
    1_772_614_795,
    '2026-03-04T08:59:55.000Z',
  ],
  [
    '1970 until the clock was set',
    'Timestamp',
    (i) => iso(i < 200 ? '1970-01-01T00:00:05' : '2026-03-04T09:00:00', i),
    1_772_614_795,
    '2026-03-04T09:00:00.000',
  ],
  [
    '2000 until the clock was set',
    'Timestamp',
    (i) => iso(i < 200 ? '2000-01-01T00:00:00' : '2026-03-04T09:00:00', i),
    825_930_000,
    '2026-03-04T09:00:00.000',
  ],
  [
    'a wrong date, set back by three days',
    'Timestamp',
    (i) => iso(i < 200 ? '2026-03-07T09:00:00' : '2026-03-04T09:00:00', i),
    -259_200,
    '2026-03-07T09:00:00.000',
  ],
]

describe('a clock that jumps in mid-log is healed, said, and takes no memory', () => {
  test.each(JUMPS)('%s', async (_, head, stamp, step, started) => {
    const log = await read(csv(head, stamp))
    expect(log.clockSteps).toHaveLength(1)
    expect(log.clockSteps[0]!.step_s).toBeCloseTo(step, 3)
    expect(log.startedAt).toBe(started)
    const review = reviewDrive(buildDrive([log]), {})
    expect(review.drive.duration_s).toBeCloseTo(39.9, 3)
    const said = review.findings.filter(({ kind }) => kind === 'clock-stepped')
    expect(said.map(({ severity, value }) => [severity, Math.round(value!)])).toEqual([
      ['note', Math.round(Number(step.toPrecision(9)))],
    ])
    expect(review.questions.find(({ question }) => question === said[0]!.question)?.state).toBe('found')
  })

  test('a block of rows read twice is left out, and said', async () => {
    const order = [
      ...Array.from({ length: 300 }, (_, i) => i),
      ...Array.from({ length: 200 }, (_, i) => 200 + i),
    ]
    const log = await read(csv('Time [s]', (i) => (i / 10).toFixed(1), order))
    expect(log.clockSteps).toEqual([])
    expect(log.skipped).toEqual([{ what: 'rows that stand twice', count: 100, first: 'line 302' }])
    const review = reviewDrive(buildDrive([log]), {})
    const [said] = review.findings.filter(({ kind }) => kind === 'rows-repeated')
    expect([said!.severity, Math.round(said!.value!)]).toEqual(['note', 10])
    expect(review.drive.duration_s).toBeCloseTo(39.9, 6)
  })

  test.each([1, 2])('… also where no column has a value in every row, %i rows a stamp', async (share) => {
    const row = (i: number): string =>
      `${(Math.floor(i / share) / 10).toFixed(1)},${i % 2 ? `${350 + (i % 7)},${i % 50},` : `,,${i % 90}`}`
    const order = [
      ...Array.from({ length: 300 }, (_, i) => i),
      ...Array.from({ length: 200 }, (_, i) => 200 + i),
    ]
    const head = 'Time [s],Pack voltage [V],Pack current [A],Speed [km/h]'
    const log = await read([head, ...order.map(row)].join('\n'))
    expect(log.clockSteps).toEqual([])
    expect(log.skipped).toEqual([{ what: 'rows that stand twice', count: 100, first: 'line 302' }])
    expect(log.series.map(({ timeS }) => timeS.length)).toEqual([200, 200, 200])
  })

  test('a clock set back with other values goes on, and is no block read twice', async () => {
    const log = await read(csv('Time [s]', (i) => ((i < 200 ? i : i - 100) / 10).toFixed(1)))
    expect(log.repeats).toEqual([])
    expect(log.clockSteps.map(({ step_s }) => Math.round(step_s))).toEqual([-10])
    expect(log.series[0]!.timeS).toHaveLength(N)
  })

  test('a steady log says that its clock ran on', async () => {
    const review = reviewDrive(buildDrive([await read(csv('Time [s]', (i) => (i / 10).toFixed(1)))]), {})
    expect(review.findings.filter(({ kind }) => /clock|repeated/.test(kind))).toEqual([])
    expect(
      review.questions
        .filter(({ question }) => /ran? on without|run on without|each of its rows once/.test(question))
        .map(({ state }) => state),
    ).toEqual(['nothing-found', 'nothing-found'])
  })
})

describe('times as they are written', () => {
  test.each([
    ['hexadecimal with 0x', 'Timestamp', (i: number) => `0x${(i * 100).toString(16).padStart(8, '0')}`],
    [
      'hexadecimal without',
      'Timestamp (ms)',
      (i: number) => (1000 + i * 100).toString(16).toUpperCase().padStart(8, '0'),
    ],
    ['the unit in the field', 'Time', (i: number) => `${(i / 10).toFixed(4)} sec`],
    ['milliseconds in the field', 'Time', (i: number) => `${i * 100} ms`],
  ] as const)('%s', async (_, head, stamp) => {
    const { timeS } = (await read(csv(head, stamp))).series[0]!
    expect(timeS).toHaveLength(N)
    expect(timeS[N - 1]! - timeS[0]!).toBeCloseTo(39.9, 6)
  })

  test('a first column that only counts rows is no time', async () => {
    await expect(read(csv('', (i) => `${i}`))).rejects.toThrow(/only counts rows.*Sample rate/)
    const rate = await read(`Sample rate: 10 Hz\n${csv('', (i) => `${i}`)}`)
    expect(rate.series.find(({ name }) => /Pack v/.test(name))!.timeS[30]).toBeCloseTo(3, 9)
  })
})
