import { mean } from '../../math/stats.ts'
import { HEAT_PER_LITRE } from './coolant-flow.ts'
import type { CoolantSeries } from './coolant-series.ts'

/** What the coolant's mean warming says of a flow where neither modules' temperatures nor the pack's size are known. */
export interface CoolantBounds {
  readonly seenC: number
  readonly errorC: number
  /** Mean heat, W: of the cells alone, and with the most that inverter and motor may add. */
  readonly cellW: number
  readonly mostW: number
  /** K at the usual flow, and the most that the least usual flow allows. */
  readonly usualC: number
  readonly mostC: number
  readonly verdict: 'too-warm' | 'too-even' | 'nothing' | 'too-little-heat'
}

/**
 * Flows that a car's pack loop can have, litres a minute, and how much of the electrical power may warm it besides the
 * cells (inverter and motor in the same loop). Common practice, no source. Wide on purpose: only what no healthy loop
 * would show is accused.
 */
export const FLOW_L_PER_MIN = { low: 2.5, usual: 8, high: 40 }
const DRIVE_LOSS_SHARE = 0.12

/**
 * Model: ΔT = heat / (flow · c), heat between the cells' I²R alone and that plus a share of the electrical power,
 * averaged over the drive; only a difference outside what 2.5 to 40 l/min give is told.
 * Blind: a flow wrong by less than some four times; heat that the cells keep counts as carried away.
 */
export function coolantBounds(series: CoolantSeries): CoolantBounds {
  const cellW = mean(series.cellW)
  const mostW = cellW + DRIVE_LOSS_SHARE * mean(series.powerW)
  const warmest = (heatW: number, litresPerMinute: number): number =>
    heatW / ((litresPerMinute / 60) * HEAT_PER_LITRE)
  const leastC = warmest(cellW, FLOW_L_PER_MIN.high)
  const mostC = warmest(mostW, FLOW_L_PER_MIN.low)
  const usualC = Math.sqrt(warmest(cellW, FLOW_L_PER_MIN.usual) * warmest(mostW, FLOW_L_PER_MIN.usual))
  const errorC = Math.max(series.offsetC, 0.6)
  const seenC = mean(series.warmedC)
  const verdict =
    seenC - errorC > mostC
      ? 'too-warm'
      : usualC <= 3 * errorC
        ? 'too-little-heat'
        : seenC + errorC < leastC
          ? 'too-even'
          : 'nothing'
  return { seenC, errorC, cellW, mostW, usualC, mostC, verdict }
}
