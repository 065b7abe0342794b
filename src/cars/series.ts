import type { Table } from '../../shared/api.ts'
import type { Review } from '../../shared/review.ts'
import { capital, unitWord } from '../../shared/wording.ts'
import { packReading } from '../history/cell-series.ts'
import { driveFigures } from '../history/figures.ts'
import type { SeriesRow } from '../tables/series-table.ts'
import type { CarFile } from './open-car.ts'

export const CAR_TABLES = ['drives', 'kit'] as const
export type CarTableName = (typeof CAR_TABLES)[number]

/** Figures of one drive in the long form; cells above their peers, brought to the warmth of the drive asked about. */
function rowsOf(review: Review, at: number, typicalMohm: number | null): SeriesRow[] {
  const pack = packReading(review)
  const warmth = pack && typicalMohm ? typicalMohm / pack.typicalMohm : 1
  const cells = pack
    ? [...pack.cells.values()].map(({ cell, extraMohm, made }) => ({
        place: `Cell ${cell} and its joint, above their peers`,
        unit: 'mΩ',
        value: made === 'cell' ? extraMohm * warmth : extraMohm,
        at,
      }))
    : []
  const figures = driveFigures(review).map(({ words, unit, value }) => ({
    place: capital(words),
    unit: unitWord(unit),
    value,
    at,
  }))
  return [...figures, ...cells]
}

/** The car's figures over its drives, or beside its kit, as a table. danfojs is loaded here, on first use. */
export async function carTable(
  file: CarFile,
  name: CarTableName,
  siblings: readonly Review[],
): Promise<Table> {
  const { seriesTable } = await import('../tables/series-table.ts')
  const last = file.drives.at(-1)?.review
  const typical = last ? (packReading(last)?.typicalMohm ?? null) : null
  const reviews =
    name === 'drives' ? file.drives.map(({ review }) => review) : [...siblings, ...(last ? [last] : [])]
  const rows = reviews.flatMap((review, at) => rowsOf(review, at, typical))
  return name === 'drives'
    ? seriesTable('drives', `${file.car} over ${reviews.length} drives`, rows, 'previous')
    : seriesTable('kit', `${file.car} beside ${siblings.length} other cars of its kit`, rows, 'others')
}
