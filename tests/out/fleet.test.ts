import { mkdtempSync, readdirSync, readFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { beforeAll, describe, expect, test } from 'vitest'
import type { Review } from '../../shared/review.ts'
import { type BatchRecord, partitionOf, storeResults } from '../../src/batch/results.ts'
import { reviewTables } from '../../src/out/review-tables.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { duck } from '../helpers/duck.ts'
import { smallDrive } from '../helpers/small-drive.ts'

/**
 * The questions of a fleet as they stand in sql/, asked of a data set whose answers are known: three cars of two kits,
 * each driven on four days a month apart. DuckDB (outside the project) reads and answers.
 */
const SQL = join(import.meta.dirname, '../../sql')
const root = mkdtempSync(join(tmpdir(), 'aftermile-fleet-'))
const out = join(root, 'aftermile-results')

const CARS = [
  { name: 'Juniper', kit: 'Kit A', growthMohm: 0.1, hotC: 41, failed: 'precharge', unevenness: 0.02 },
  { name: 'Sorrel', kit: 'Kit A', growthMohm: 0, hotC: 43, failed: 'precharge', unevenness: 0.02 },
  { name: 'Teasel', kit: 'Kit B', growthMohm: 0.01, hotC: 52, failed: 'interlock', unevenness: 0.2 },
] as const
const DAYS = [0, 30, 60, 90]

type Car = (typeof CARS)[number]

/** A real review, with the figures that the questions ask for set to what is known. */
function reviewOf(base: Review, car: Car, month: number): Review {
  const started = new Date(Date.UTC(2026, 0, 5) + DAYS[month]! * 86_400_000).toISOString()
  const cell = base.cells[0]!
  const module = { ...base.modules[0], index: 1, box: null, rise_c: 10, rise_c_plus_minus: 1 }
  const press = (at: number) => ({
    span_s: [at * 10, at * 10 + 3] as [number, number],
    from_kmh: 60,
    to_kmh: 20,
    peak_bar: 10,
    peak_regen_nm: 50,
    recovered_wh: 10,
    peak_charge_a: 40,
    deceleration_ms2: 2 * (1 + (at % 2 === 0 ? 1 : -1) * car.unevenness),
    deceleration_ms2_plus_minus: 0.1,
    share_regen_percent: 40,
    limited_by: null,
  })
  return {
    ...base,
    drive: { ...base.drive, started_at: started },
    cells: [1, 2, 3].map((index) => ({
      ...cell,
      index,
      joint_extra_mohm: index === 2 ? 0.05 + month * car.growthMohm : 0.02,
      joint_extra_mohm_plus_minus: 0.05,
    })),
    modules: [
      {
        ...(module as Review['modules'][number]),
        hottest_c: car.hotC,
        thermal_resistance_ratio: 1,
        thermal_resistance_ratio_plus_minus: 0.1,
      },
      { ...(module as Review['modules'][number]), index: 2, hottest_c: 30 },
    ],
    starts: [0, 1].map((at) => ({
      span_s: [at * 20, at * 20 + 5] as [number, number],
      reached: at === 0 ? ('precharge' as const) : ('driving' as const),
      steps: [{ name: car.failed, held: at === 1, at_s: 1, why: 'as known' }],
      first_failed: at === 0 ? car.failed : null,
    })),
    regen: {
      ...(base.regen as NonNullable<Review['regen']>),
      start_bar: 3,
      full_bar: 25,
      max_nm: 60,
      applications: Array.from({ length: 6 }, (_, at) => press(at)),
    },
  }
}

beforeAll(async () => {
  const base = reviewDrive(smallDrive(), {})
  for (const [c, car] of CARS.entries())
    for (const month of DAYS.keys()) {
      const key = `d${c}${month}`.padEnd(17, '0')
      const vehicle = { name: car.name, kit: car.kit }
      const review = reviewOf(base, car, month)
      const record: BatchRecord = {
        ...{ form: 1, key, asked: '-', program: '0', name: `${car.name} ${month}`, why: '-', logs: [] },
        ...{ state: 'reviewed', sentence: '-', car: car.name, verdict: 'nothing-found', exit: 0 },
        ...{ stop: 0, attention: 0, partition: partitionOf(car.kit, car.name, key) },
      }
      await storeResults(out, record, { json: '{}', tables: reviewTables(review, vehicle) })
    }
})

/** A question as it stands in its file, over the views that stand in theirs. */
function ask(name: string): Promise<Record<string, unknown>[]> {
  const views = readFileSync(join(SQL, 'views-duckdb.sql'), 'utf8').replaceAll(
    "'aftermile-results/",
    `'${out}/`,
  )
  return duck(readFileSync(join(SQL, `${name}.sql`), 'utf8'), [views])
}

const plain = (value: unknown): number => Number(value)

describe('questions of a fleet', () => {
  test('which joints grow: the one that does, by how much, and what is within its plus or minus is not shown', async () => {
    const rows = await ask('joints-that-grow')
    expect(rows[0]).toMatchObject({ car: 'Juniper', joint_read_with_cell: 2, shown: true })
    // A straight line through 0.05, 0.15, 0.25, 0.35 mΩ, 30 days apart.
    expect(plain(rows[0]!.mohm_a_month)).toBeCloseTo(0.1, 9)
    expect(plain(rows[0]!.highest_mohm)).toBeCloseTo(0.35, 9)
    expect(rows[1]).toMatchObject({ car: 'Teasel', joint_read_with_cell: 2, shown: false })
    expect(rows).toHaveLength(9)
  })

  test('which kits run hot: the mean of each drive’s warmest module', async () => {
    const rows = await ask('kits-that-run-hot')
    expect(rows.map(({ kit, mean_hottest_c, hottest_c }) => [kit, mean_hottest_c, hottest_c])).toEqual([
      ['Kit B', 52, 52],
      ['Kit A', 42, 43],
    ])
    expect(rows.map(({ cars, drives }) => [plain(cars), plain(drives)])).toEqual([
      [1, 4],
      [2, 8],
    ])
  })

  test('which start step fails most: attempts, their share and cars', async () => {
    const rows = await ask('start-step-that-fails-most')
    expect(
      rows.map(({ step, attempts, percent_of_attempts, cars }) => [
        step,
        plain(attempts),
        plain(percent_of_attempts),
        plain(cars),
      ]),
    ).toEqual([
      ['precharge', 8, (100 * 8) / 24, 2],
      ['interlock', 4, (100 * 4) / 24, 1],
    ])
  })

  test('which maps brake most evenly: deceleration a bar, and how far it differs from press to press', async () => {
    const rows = await ask('maps-that-brake-evenly')
    expect(rows.map(({ kit }) => kit)).toEqual(['Kit A', 'Kit B'])
    expect(plain(rows[0]!.ms2_per_bar)).toBeCloseTo(0.2, 9)
    // Half of the presses 2 % over, half 2 % under: sample standard deviation of 48.
    expect(plain(rows[0]!.uneven_percent)).toBeCloseTo(2 * Math.sqrt(48 / 47), 9)
    expect(plain(rows[1]!.uneven_percent)).toBeCloseTo(20 * Math.sqrt(24 / 23), 9)
  })

  test('every question in sql/ is asked here', () => {
    const asked = readFileSync(import.meta.filename, 'utf8')
    const files = readdirSync(SQL).filter((name) => !name.startsWith('views-'))
    expect(files.filter((name) => !asked.includes(`'${name.replace('.sql', '')}'`))).toEqual([])
  })
})
