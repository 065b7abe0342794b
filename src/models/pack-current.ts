import type { Facts } from '../analyses/analysis.ts'
import { heldAt } from '../drive/on-one-clock.ts'
import { median } from '../math/stats.ts'

/** The pack's current as analyses may use it. Discharge positive. */
export interface PackCurrent {
  readonly timeS: Float64Array
  /** A, zero removed; NaN where clipped or not believable. */
  readonly amperes: Float64Array
  /** A removed as the sensor's zero; 0 where it could not be learned. */
  readonly zeroA: number
  readonly zeroPlusMinusA: number | null
  /** Gain tolerance that enters every interval, percent. */
  readonly gainPercent: number
}

/**
 * Model: logged current = true current · (1 + gain) + zero; the zero is the median with contactors open.
 * Gives null where no pack current is logged. Blind to gain: its tolerance comes from the vehicle file (default 2 %).
 */
export function packCurrent(facts: Facts): PackCurrent | null {
  const current = facts.drive.channels.get('pack_current')
  if (!current) return null
  const positive = facts.drive.channels.get('contactor_positive')
  let zeroA = 0
  if (positive) {
    const closed = heldAt(positive, current.timeS)
    const open = current.values.filter((_, i) => closed[i] === 0)
    if (open.length > 5) zeroA = median(open)
  }
  return {
    timeS: current.timeS,
    amperes: current.values.map((value) => value - zeroA),
    zeroA,
    zeroPlusMinusA: null,
    gainPercent: facts.vehicle.pack?.current_gain_percent ?? 2,
  }
}
