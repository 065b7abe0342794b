import type { RawSeries } from '../../shared/raw-log.ts'
import { median } from '../math/stats.ts'
import type { Column } from './column.ts'

/** The sum of fewer cells is no pack. */
const FEWEST_CELLS = 4

/** What a column was understood as so far. */
export interface Pick {
  readonly id: string
  readonly sureness: number
  readonly why: string
}

/** A fixed channel (signal table, map) is not argued with. */
export const ARGUABLE = 0.995

export interface CellSum {
  readonly count: number
  /** Sum of the cells' medians, in their own unit. */
  readonly value: number
}

export function sumOfCells(picks: ReadonlyMap<RawSeries, Pick>, columns: readonly Column[]): CellSum | null {
  const cells = columns.filter(({ series }) => picks.get(series)?.id.startsWith('cell_voltage.'))
  if (cells.length < FEWEST_CELLS) return null
  return {
    count: cells.length,
    value: median(cells.map(({ values }) => values.spread.middle)) * cells.length,
  }
}

/** Value over the sum, its power of ten taken out: 0.95 … 1.05 where they are one. */
function offFrom(value: number, sum: CellSum): number {
  const ratio = value / sum.value
  return ratio / 10 ** Math.round(Math.log10(ratio))
}

export const near = (value: number, sum: CellSum, share: number): boolean =>
  Math.abs(offFrom(value, sum) - 1) < share

/** Below this a column keeps its own name: a wrong channel is worse than none. */
export const LEAST_SURE = 0.5

export const isNamed = (picks: ReadonlyMap<RawSeries, Pick>, series: RawSeries): boolean =>
  (picks.get(series)?.sureness ?? 0) >= LEAST_SURE
