import type { CellLag } from './cell-lag.ts'
import type { CellTable } from './cell-series.ts'
import { gridAt, type ThroughCurrent, trustedAt } from './pack-through-current.ts'

/**
 * Cell voltages and what they should follow, averaged over even bins of time: one design for all cells that are read
 * at the same moments, one bin grid for the whole pack.
 *
 * Columns of a design, one value a bin, NaN where the bin has no usable rows:
 *
 *     fast      the current behind the voltage filter, at the moment of reading [A]
 *     slow[…]   states of the slow parts [A]: each settles at the current
 *     charge    A·h that have left the pack
 */
export interface Design {
  readonly fast: Float64Array
  readonly slow: readonly Float64Array[]
  readonly charge: Float64Array
}

export interface CellBins {
  readonly widthS: number
  readonly bins: number
  readonly startS: number
  readonly designs: readonly Design[]
  /** By place in `table.cells`: its design, and its mean voltage a bin (NaN where any of the bin's rows must leave). */
  readonly designOf: Int32Array
  readonly volts: readonly Float64Array[]
}

const LAG_STEP_S = 0.02

/**
 * @param widthS bin width; @param series what to average: the filtered current and the slow states on the grid
 * @param keepBled rows in which the cell is bled stay (where balancing never paused there would be nothing left)
 */
export function binCells(
  table: CellTable,
  through: ThroughCurrent,
  lag: CellLag | null,
  widthS: number,
  fast: Float64Array,
  slow: readonly Float64Array[],
  keepBled = false,
): CellBins {
  const startS = through.startS
  const heardS = (through.amperes.length - 1) * through.stepS
  const endS = through.heard.drive(startS + heardS)
  const bins = Math.max(1, Math.ceil(heardS / widthS))
  const designs: Design[] = []
  const keys = new Map<string, number>()
  const plans: { binOfRow: Int32Array; count: Int32Array }[] = []
  const designOf = new Int32Array(table.cells.length)
  const volts = table.cells.map(({ rows, volts, leave }, at) => {
    const lagS = lag ? Math.round(lag.lagS[at]! / LAG_STEP_S) * LAG_STEP_S : 0
    const key = `${rows} ${lagS.toFixed(3)}`
    let place = keys.get(key)
    if (place === undefined) {
      place = designs.length
      keys.set(key, place)
      const { timeS, fresh } = table.rows[rows]!
      const binOfRow = new Int32Array(timeS.length).fill(-1)
      const count = new Int32Array(bins)
      const sum = new Float64Array(bins)
      const moment = new Float64Array(bins)
      for (let i = 0; i < timeS.length; i++) {
        const atS = timeS[i]! - lagS
        if (!fresh[i] || atS < startS || atS > endS || !trustedAt(through, atS)) continue
        const bin = Math.min(bins - 1, Math.floor((through.heard.heard(timeS[i]!) - startS) / widthS))
        if (bin < 0) continue
        binOfRow[i] = bin
        count[bin]!++
        sum[bin]! += gridAt(through, fast, atS)
        moment[bin]! += atS
      }
      for (let bin = 0; bin < bins; bin++) {
        sum[bin] = count[bin]! > 0 ? sum[bin]! / count[bin]! : Number.NaN
        moment[bin] = count[bin]! > 0 ? moment[bin]! / count[bin]! : Number.NaN
      }
      // what moves slowly is as good at the mean moment of the bin's rows
      const slowly = (series: Float64Array): Float64Array =>
        moment.map((atS) => (Number.isNaN(atS) ? Number.NaN : gridAt(through, series, atS)))
      designs.push({ fast: sum, slow: slow.map(slowly), charge: slowly(through.ampHours) })
      plans.push({ binOfRow, count })
    }
    designOf[at] = place
    const { binOfRow, count } = plans[place]!
    const sum = new Float64Array(bins)
    const usable = new Int32Array(bins)
    for (let i = 0; i < binOfRow.length; i++) {
      const bin = binOfRow[i]!
      if (bin < 0 || !Number.isFinite(volts[i]!) || (leave?.[i] && !keepBled)) continue
      sum[bin]! += volts[i]!
      usable[bin]!++
    }
    for (let bin = 0; bin < bins; bin++)
      sum[bin] = count[bin]! > 0 && usable[bin] === count[bin] ? sum[bin]! / count[bin]! : Number.NaN
    return sum
  })
  return { widthS, bins, startS, designs, designOf, volts }
}
