import { DataFrame, Series } from 'danfojs'
import type { Table } from '../../shared/api.ts'
import type { Review } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { type Column, columnsOf, TABLE_NAMES, type TableName } from './columns.ts'

export { TABLE_NAMES }

export interface TableWish {
  /** Column by which rows are grouped in the summary; one group of all rows without it. */
  readonly group?: string | null
  readonly sort?: { readonly key: string; readonly falling: boolean } | null
}

/** A table of the review as a data frame: sorted, with mean, spread (sample standard deviation) and extremes a group. */
export function makeTable(
  review: Review,
  name: TableName,
  wish: TableWish = {},
  vehicle: Vehicle = {},
): Table {
  const { title, columns, groups } = columnsOf(review, name, vehicle)
  const sorted = wish.sort ? sortColumns(columns, wish.sort.key, wish.sort.falling) : columns
  const group = groups.find((key) => key === wish.group) ?? null
  return {
    name,
    title,
    columns: sorted.map(({ key, label, unit, values }) => ({ key, label, unit, values: [...values] })),
    groups: [...groups],
    summary: summarise(sorted, group),
  }
}

/** Rows in the order of one column; rows without a value there come last, whichever way it is sorted. */
function sortColumns(columns: readonly Column[], key: string, falling: boolean): readonly Column[] {
  const by = columns.find((column) => column.key === key)
  if (!by || by.values.length === 0) return columns
  const known = by.values.flatMap((value, row) => (value === null ? [] : [row]))
  const missing = by.values.flatMap((value, row) => (value === null ? [row] : []))
  const order =
    known.length === 0
      ? []
      : (new DataFrame({ row: known, value: known.map((row) => by.values[row]) })
          .sortValues('value', { ascending: !falling })!
          .column('row').values as number[])
  const rows = [...order, ...missing]
  return columns.map((column) => ({ ...column, values: rows.map((row) => column.values[row]!) }))
}

function summarise(columns: readonly Column[], group: string | null): Table['summary'] {
  const rows = columns[0]?.values.length ?? 0
  if (rows === 0) return []
  const figures = columns.filter(isFigure)
  if (group === null) return [summaryRow('all', rows, figures, (column) => column.values)]
  const by = columns.find((column) => column.key === group)!
  const frame = new DataFrame({
    group: by.values.map((value) => (value === null ? 'not known' : String(value))),
    row: Array.from({ length: rows }, (_, row) => row),
  })
  const { colDict } = frame.groupby(['group']) as unknown as {
    colDict: Record<string, { row: number[] }>
  }
  return Object.entries(colDict).map(([name, { row }]) =>
    summaryRow(name, row.length, figures, (column) => row.map((at) => column.values[at]!)),
  )
}

const isFigure = (column: Column) =>
  !column.isName &&
  !column.key.endsWith('_plus_minus') &&
  column.values.some((value) => typeof value === 'number')

function summaryRow(
  group: string,
  rows: number,
  columns: readonly Column[],
  valuesOf: (column: Column) => readonly (number | string | null)[],
): Table['summary'][number] {
  const figures: Table['summary'][number]['figures'] = {}
  for (const column of columns) {
    const values = valuesOf(column).filter((value): value is number => typeof value === 'number')
    const series = new Series(values)
    figures[column.key] =
      values.length === 0
        ? { mean: null, spread: null, min: null, max: null }
        : {
            mean: series.mean(),
            spread: values.length > 1 ? series.std() : null,
            min: series.min(),
            max: series.max(),
          }
  }
  return { group, rows, figures }
}
