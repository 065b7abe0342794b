import { contactorState } from '../../car/contactor-state.ts'
import { channel, type Facts } from '../../facts/facts.ts'
import { insideEach } from '../../math/spans.ts'
import { median, quantile } from '../../math/stats.ts'
import { linearAt } from '../../samples/on-one-clock.ts'

/** How the converter took the 12 V system over, and at what load it held it. */
export interface LvConverter {
  /** s from the contactors' closing until 12 V had come half of its way up; null where it did not rise or was up before. */
  readonly takeoverS: number | null
  readonly beforeV: number
  readonly afterV: number
  /** The converter's highest current (98 of 100 seconds lie below), A, and 12 V at that; null without its current. */
  readonly most: { readonly amps: number; readonly volts: number } | null
}

const LEAST_RISE_V = 0.3
const FEWEST = 3

/**
 * Model: medians of 12 V in the 3 s before the contactors first close and 5 to 20 s after; half-way crossing between.
 * Biased by: loads that come on with the contactors; readings slower than the rise. Gives null without 12 V or a closing.
 */
export function lvConverter(facts: Facts): LvConverter | null {
  const lv = channel(facts, 'lv_voltage')
  const closed = facts
    .once(contactorState)
    .of('closed')
    .find(([from]) => from > 1)
  if (!lv || !closed) return null
  const part = (from: number, to: number): Float64Array =>
    lv.values.filter((value, i) => lv.timeS[i]! >= from && lv.timeS[i]! < to && Number.isFinite(value))
  const [at, until] = closed
  const before = part(at - 3, at - 0.2)
  const after = part(at + 5, Math.min(until, at + 20))
  if (before.length < FEWEST || after.length < FEWEST) return null
  const beforeV = median(before)
  const afterV = median(after)
  const half = (beforeV + afterV) / 2
  const rises = afterV - beforeV > LEAST_RISE_V
  const crossed = rises ? lv.timeS.findIndex((t, i) => t >= at && lv.values[i]! > half) : -1
  return {
    takeoverS: crossed >= 0 ? lv.timeS[crossed]! - at : null,
    beforeV,
    afterV,
    most: mostOf(facts, closed),
  }
}

function mostOf(facts: Facts, closed: readonly [number, number]): LvConverter['most'] {
  const current = channel(facts, 'dcdc_current')
  const lv = channel(facts, 'lv_voltage')
  if (!current || !lv) return null
  const inside = insideEach([[closed[0], closed[1]]], current.timeS)
  const amps = current.values.map((value, i) => (inside[i] === 1 ? Math.abs(value) : Number.NaN))
  const most = quantile(amps, 0.98)
  const volts = linearAt(lv, current.timeS, 5).filter((_, i) => amps[i]! >= most)
  return Number.isFinite(most) && volts.length > 0 ? { amps: most, volts: median(volts) } : null
}
