import type { Facts } from '../analyses/analysis.ts'
import { type CellSum, sumOfCells } from '../drive/sum-of-cells.ts'

/** Sum of the pack's cells, computed once a drive; null without cell voltages. */
export function cellSum(facts: Facts): CellSum | null {
  return sumOfCells(facts.drive.channels, facts.vehicle.pack?.cells ?? 0)
}
