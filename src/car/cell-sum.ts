import type { Facts } from '../facts/facts.ts'
import { type CellSum, sumOfCells } from '../samples/sum-of-cells.ts'

/** Sum of the pack's cells, computed once a drive; null without cell voltages. */
export function cellSum(facts: Facts): CellSum | null {
  return sumOfCells(facts.drive.channels, facts.vehicle.pack?.cells ?? 0)
}
