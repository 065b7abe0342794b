import type { ColumnNote } from '../../shared/drive-file.ts'

/** A value of a table that goes out; null where there is none. */
export type OutValue = number | string | boolean | null
export type OutValues = readonly OutValue[] | Float64Array

/** A column of a table that goes out. */
export interface OutColumn {
  readonly type: 'number' | 'whole' | 'text' | 'switch'
  readonly note: ColumnNote
  /** The values of the rows [from, to): so a table of millions of rows is never there all at once. */
  slice(from: number, to: number): OutValues
}

/** A table as every format writes it: a name, rows, columns with unit and source. */
export interface OutTable {
  readonly name: string
  readonly rows: number
  readonly columns: readonly OutColumn[]
}

/** A column whose values are all there. */
export function columnOf(type: OutColumn['type'], note: ColumnNote, values: readonly OutValue[]): OutColumn {
  return { type, note, slice: (from, to) => values.slice(from, to) }
}
