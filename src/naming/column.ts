import type { RawSeries } from '../../shared/raw-log.ts'
import type { ColumnValues } from './column-values.ts'
import type { NameWords } from './name-words.ts'

/** A column as naming sees it. */
export interface Column {
  readonly series: RawSeries
  readonly name: NameWords
  readonly values: ColumnValues
}
