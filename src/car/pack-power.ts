import type { Facts } from '../facts/facts.ts'
import { median } from '../math/stats.ts'
import { freshSamples } from '../samples/fresh-samples.ts'
import { linearAt, type Samples } from '../samples/on-one-clock.ts'
import { cellSum } from './cell-sum.ts'
import { contactorState } from './contactor-state.ts'
import { packCurrent } from './pack-current.ts'

/** Sum of cells and pack voltage that differ by more are not one figure; no source. */
const SAME_SHARE = 0.05

/** The pack's voltage, current and power on the current's clock. Discharge positive. */
export interface PackPower {
  readonly timeS: Float64Array
  readonly volts: Float64Array
  /** A; zero with contactors open, the range's end where clipped (so at least that much flowed). */
  readonly amperes: Float64Array
  readonly watts: Float64Array
  readonly voltsFrom: string
  /** Tolerance of the voltage's scale, percent. */
  readonly voltsPercent: number
}

const VOLTAGE_GAP_S = 5
/** Scale of a pack voltage reading. Common practice, no source. */
const VOLTAGE_PERCENT = 0.5

/**
 * P = V · I, with V read between its samples at each current sample. V is `pack_voltage`, else the sum of the cells,
 * else mean cell voltage times the vehicle file's cells, else `link_voltage`.
 * With contactors known to be open the current is set to 0, so that its noise does not add up.
 * Gives null without a current or any of these voltages.
 */
export function packPower(facts: Facts): PackPower | null {
  const current = facts.once(packCurrent)
  const source = voltage(facts)
  if (!current || !source) return null
  const { timeS } = current
  const volts = linearAt(source.channel, timeS, VOLTAGE_GAP_S)
  const open = facts.once(contactorState).of('open')
  let nextOpen = 0
  const amperes = current.amperes.map((value, i) => {
    const at = timeS[i]!
    while (nextOpen < open.length && open[nextOpen]![1] <= at) nextOpen++
    if (nextOpen < open.length && open[nextOpen]![0] <= at) return 0
    if (!Number.isNaN(value)) return value
    const side = current.clippedSide[i]!
    return side === 0 ? value : current.rangeA[side < 0 ? 0 : 1]!
  })
  return {
    timeS,
    volts,
    amperes,
    watts: amperes.map((value, i) => value * volts[i]!),
    voltsFrom: source.from,
    voltsPercent: source.percent,
  }
}

function voltage(facts: Facts): { channel: Samples; from: string; percent: number } | null {
  const { channels } = facts.drive
  const pack = channels.get('pack_voltage')
  const cells = facts.once(cellSum)
  const sum = cells ? { timeS: cells.timeS, values: cells.volts } : null
  if (pack) {
    const apart = sum
      ? Math.abs(median(linearAt(sum, pack.timeS, VOLTAGE_GAP_S).map((v, i) => v / pack.values[i]! - 1)))
      : 0
    const percent = Math.hypot(VOLTAGE_PERCENT, apart < SAME_SHARE ? 50 * apart : 0)
    return { channel: freshSamples(pack), from: 'pack voltage', percent }
  }
  if (cells && sum) {
    const from = cells.complete ? 'the sum of the cells' : 'the logged cells, scaled to all'
    return { channel: sum, from, percent: cells.complete ? VOLTAGE_PERCENT : 1 }
  }
  const mean = channels.get('mean_cell_voltage')
  const count = facts.vehicle.pack?.cells
  if (mean && count)
    return {
      channel: { timeS: mean.timeS, values: mean.values.map((volts) => volts * count) },
      from: 'mean cell voltage times the number of cells',
      percent: 1,
    }
  const link = channels.get('link_voltage')
  return link ? { channel: link, from: 'the link voltage', percent: 1 } : null
}
