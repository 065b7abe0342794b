import type { Channel } from '../../shared/drive.ts'
import { median } from '../math/stats.ts'
import { freshSamples } from './fresh-samples.ts'
import { linearAt } from './on-one-clock.ts'

/** Between these a cell's reading is one; common practice, no source. */
export const CELL_LOW_V = 0.5
/** See above. */
export const CELL_HIGH_V = 5
/** Fewer rows give no usual ratio; no source. */
const FEWEST_RATIOS = 10

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
  /** How many cells pack voltage holds: its ratio to a mean cell; null without pack voltage. */
  readonly byPackVoltage: number | null
}

/** Pack voltage further from the cells' sum than its sensor's scale can be: cells are missing. Common practice, no source. */
const SCALE = 0.02

/**
 * Sum of `cell_voltage.1` … `.N` [V] at the moments of the first cell's fresh readings. Cells on another clock are
 * read between their
 * samples; a missing reading counts as the mean of the others, and cells that are not logged at all as well. Where no
 * vehicle file says how many there are, a pack voltage far above the sum of the logged cells does.
 * Biased by cells scanned after one another: while the current changes the sum mixes moments up to a scan apart.
 * @param cells how many the pack has (vehicle file); 0 where unknown
 * @returns null without cell voltages
 */
export function sumOfCells(channels: ReadonlyMap<string, Channel>, cells = 0): CellSum | null {
  const all = [...channels.values()].filter((each) => each.id.startsWith('cell_voltage.'))
  const [first] = all
  if (!first) return null
  const highest = Math.max(...all.map((each) => Number(each.id.slice('cell_voltage.'.length))))
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
      if (value > CELL_LOW_V && value < CELL_HIGH_V) {
        sums[i]! += value
        counts[i]!++
      }
    }
  }
  const least = 0.9 * all.length
  const means = sums.map((sum, i) => (counts[i]! >= least ? sum / counts[i]! : Number.NaN))
  const byPackVoltage = cellsInPack(channels.get('pack_voltage'), timeS, means)
  const more = byPackVoltage !== null && byPackVoltage > highest * (1 + SCALE) + 0.5
  const total = cells > 0 ? Math.max(cells, highest) : more ? Math.round(byPackVoltage) : highest
  return {
    timeS,
    volts: means.map((mean) => mean * total),
    logged: all.length,
    cells: total,
    complete: all.length === total,
    byPackVoltage,
  }
}

/** Median ratio of pack voltage to a mean cell where the pack's reading is up (one read behind open contactors is not). */
function cellsInPack(pack: Channel | undefined, timeS: Float64Array, means: Float64Array): number | null {
  if (pack?.unit !== 'V') return null
  const volts = linearAt(freshSamples(pack), timeS, 5)
  const ratios = volts.map((value, i) => value / means[i]!).filter(Number.isFinite)
  const most = ratios.reduce((high, ratio) => Math.max(high, ratio), 0)
  const up = ratios.filter((ratio) => ratio > 0.8 * most)
  return up.length >= FEWEST_RATIOS ? median(up) : null
}
