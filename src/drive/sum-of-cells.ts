import type { Channel } from '../../shared/drive.ts'
import { freshSamples } from './fresh-samples.ts'
import { linearAt } from './on-one-clock.ts'

/** The pack's voltage as its cells add up to it. */
export interface CellSum {
  readonly timeS: Float64Array
  /** V over all cells; NaN where fewer than nine in ten are believable. */
  readonly volts: Float64Array
  /** Cells that are logged. */
  readonly logged: number
  /** Cells that the pack has, as far as known. */
  readonly cells: number
  /** Every cell of the pack is logged. */
  readonly complete: boolean
}

/**
 * Sum of `cell_voltage.1` … `.N` [V] at the moments of the first cell's fresh readings. Cells on another clock are read between their
 * samples; a missing reading counts as the mean of the others, and cells that are not logged at all as well.
 * Biased by cells scanned after one another: while the current changes the sum mixes moments up to a scan apart.
 * @param cells how many the pack has (vehicle file); 0 where unknown
 * @returns null without cell voltages
 */
export function sumOfCells(channels: ReadonlyMap<string, Channel>, cells = 0): CellSum | null {
  const all = [...channels.values()].filter((each) => each.id.startsWith('cell_voltage.'))
  const [first] = all
  if (!first) return null
  const highest = Math.max(...all.map((each) => Number(each.id.slice('cell_voltage.'.length))))
  const total = Math.max(cells, highest)
  const { timeS } = freshSamples(first)
  const kept = first.fresh?.includes(0) ? first.fresh : null
  const sums = new Float64Array(timeS.length)
  const counts = new Uint16Array(timeS.length)
  for (const each of all) {
    const together = each.timeS === first.timeS && each.fresh === first.fresh
    const volts = together
      ? kept
        ? each.values.filter((_, i) => kept[i] === 1)
        : each.values
      : linearAt(freshSamples(each), timeS, 5)
    for (let i = 0; i < timeS.length; i++) {
      const value = volts[i]!
      if (value > 0.5 && value < 5) {
        sums[i]! += value
        counts[i]!++
      }
    }
  }
  const least = 0.9 * all.length
  const volts = sums.map((sum, i) => (counts[i]! >= least ? (sum / counts[i]!) * total : Number.NaN))
  return { timeS, volts, logged: all.length, cells: total, complete: all.length === total }
}
