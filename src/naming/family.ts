import type { Column } from './column.ts'

/** Columns whose names differ only in numbers or one letter, understood as one numbered channel. */
export interface Family {
  readonly id: string
  readonly members: readonly Column[]
  /** Channel number per member. */
  readonly numbers: readonly number[]
  readonly sureness: number
  readonly why: string
}
