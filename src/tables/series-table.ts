import { DataFrame, merge, Series } from 'danfojs'
import type { Table } from '../../shared/api.ts'

/** One figure at one place in one drive (or one car): the long form that frames group, join and describe. */
export interface SeriesRow {
  /** "Cell 41", "Module 3", "isolation". */
  readonly place: string
  readonly unit: string
  readonly value: number
  /** Number of the drive, 0 the first; or of the car among its siblings, the last one this car. */
  readonly at: number
}

const MEASURES = ['mean', 'spread', 'min', 'max'] as const

/**
 * A row a place: the last value, what it is away from the one before it (or from the others' mean), and mean, spread and
 * extremes of the others; what differs most of its spread first. Missing is null.
 * @param against what the last value is compared with: the one before it, or all others
 */
export function seriesTable(
  name: string,
  title: string,
  rows: readonly SeriesRow[],
  against: 'previous' | 'others',
): Table {
  const last = rows.reduce((most, { at }) => Math.max(most, at), 0)
  const places = [...new Set(rows.map(({ place }) => place))]
  const unitOf = new Map(rows.map(({ place, unit }) => [place, unit]))
  const others = rows.filter(({ at }) => at < last)
  const now = rows.filter(({ at }) => at === last)
  const described = describe(others)
  const before =
    against === 'previous'
      ? latest(others)
      : new Map([...described].map(([place, each]) => [place, each.mean]))
  const joined = join(now, before)
  const order = places
    .map((place) => {
      const own = joined.get(place)
      const of = described.get(place)
      const difference = own && own.before !== null ? own.value - own.before : null
      const far = difference === null || !of?.spread ? -1 : Math.abs(difference) / of.spread
      return { place, own, of, difference, far }
    })
    .sort((a, b) => b.far - a.far)
  return {
    name,
    title,
    groups: [],
    columns: columnsOf(order, unitOf, against),
    summary: [],
  }
}

interface Row {
  readonly place: string
  readonly own: { readonly value: number } | undefined
  readonly of: Described | undefined
  readonly difference: number | null
}

function columnsOf(
  order: readonly Row[],
  unitOf: ReadonlyMap<string, string>,
  against: 'previous' | 'others',
): Table['columns'] {
  const column = (key: string, label: string, value: (row: Row) => number | string | null) => ({
    key,
    label,
    unit: '',
    values: order.map(value),
  })
  const [last, difference] =
    against === 'previous'
      ? ['Last drive', 'Change since the drive before']
      : ['This car', 'Away from the others’ mean']
  return [
    column('place', 'Place', ({ place }) => place),
    column('unit', 'Unit', ({ place }) => unitOf.get(place) ?? ''),
    column('last', last!, ({ own }) => own?.value ?? null),
    column('difference', difference!, (row) => row.difference),
    column('mean', 'Mean of the others', ({ of }) => of?.mean ?? null),
    column('spread', 'Spread', ({ of }) => of?.spread ?? null),
    column('min', 'Lowest', ({ of }) => of?.min ?? null),
    column('max', 'Highest', ({ of }) => of?.max ?? null),
    column('count', 'Others', ({ of }) => of?.count ?? 0),
  ]
}

interface Described extends Record<(typeof MEASURES)[number], number | null> {
  readonly count: number
}

/** Grouped by place: count, mean, sample standard deviation, extremes. */
function describe(rows: readonly SeriesRow[]): Map<string, Described> {
  if (rows.length === 0) return new Map()
  const frame = new DataFrame({
    place: rows.map(({ place }) => place),
    value: rows.map(({ value }) => value),
  })
  const { colDict } = frame.groupby(['place']) as unknown as { colDict: Record<string, { value: number[] }> }
  return new Map(
    Object.entries(colDict).map(([place, { value }]) => {
      const series = new Series(value)
      const spread = value.length > 1 ? series.std() : null
      return [
        place,
        { count: value.length, mean: series.mean(), spread, min: series.min(), max: series.max() },
      ]
    }),
  )
}

/** The newest value of each place. */
function latest(rows: readonly SeriesRow[]): Map<string, number> {
  if (rows.length === 0) return new Map()
  const sorted = new DataFrame({
    place: rows.map(({ place }) => place),
    value: rows.map(({ value }) => value),
    at: rows.map(({ at }) => at),
  }).sortValues('at', { ascending: true })!
  const value = sorted.column('value').values as number[]
  return new Map((sorted.column('place').values as string[]).map((place, row) => [place, value[row]!]))
}

/** This drive's values joined with those that they are compared with, by place; null where there is none. */
function join(
  now: readonly SeriesRow[],
  before: ReadonlyMap<string, number | null>,
): Map<string, { value: number; before: number | null }> {
  if (now.length === 0) return new Map()
  const known = [...before].filter((each): each is [string, number] => each[1] !== null)
  if (known.length === 0) return new Map(now.map(({ place, value }) => [place, { value, before: null }]))
  const left = new DataFrame({ place: now.map(({ place }) => place), value: now.map(({ value }) => value) })
  const right = new DataFrame({
    place: known.map(([place]) => place),
    before: known.map(([, value]) => value),
  })
  const both = merge({ left, right, on: ['place'], how: 'left' })
  const value = both.column('value').values as number[]
  const was = both.column('before').values as (number | null | undefined)[]
  return new Map(
    (both.column('place').values as string[]).map((place, row) => {
      const other = was[row]
      return [
        place,
        { value: value[row]!, before: typeof other === 'number' && Number.isFinite(other) ? other : null },
      ]
    }),
  )
}
