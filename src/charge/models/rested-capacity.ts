import type { Span } from '../../../shared/units.ts'
import { packCurrent } from '../../car/pack-current.ts'
import { type Facts, family } from '../../facts/facts.ts'
import { median } from '../../math/stats.ts'
import { linearAt } from '../../samples/on-one-clock.ts'
import type { Sum } from './session-energy.ts'

/** Under this the pack rests, A; so long before its voltage is read, s. Common practice, no source. */
const REST_A = 1
const REST_S = 1200
/** What a rested cell's voltage may still be off by, V: reading, and what it has not yet relaxed. Common practice. */
const REST_V = 0.004
/** A curve flatter than this tells no state of charge, V a percent; two points nearer than this tell no capacity, %. */
const FLAT_V = 0.003
const APART_PERCENT = 20

/**
 * Capacity between two rested points around a charge: Ah that flowed between them, against the change of state of charge
 * that the vehicle file's rest voltages give. Null where either rest is too short, the curve too flat, or they lie too near.
 * Biased by: hysteresis of the rest voltage (iron phosphate), which the flat-curve bar keeps out for the most part.
 */
export function restedCapacity(facts: Facts, span: Span, ah: Sum | null): Sum | null {
  const curve = facts.vehicle.pack?.ocv
  const current = facts.once(packCurrent)
  const cells = family(facts, 'cell_voltage')
  if (!curve || !current || !ah || cells.length === 0) return null
  const rests = (atS: number): boolean =>
    atS - REST_S >= 0 &&
    atS <= facts.drive.durationS &&
    current.timeS.some((t) => t > atS - REST_S && t < atS - REST_S / 2) &&
    current.timeS.every((t, i) => t <= atS - REST_S || t >= atS || Math.abs(current.amperes[i]!) < REST_A)
  const before = span[0] - 5
  const after = facts.drive.durationS - 1
  if (!rests(before) || after - span[1] < REST_S || !rests(after)) return null
  const volt = (atS: number): number =>
    median(cells.map(({ channel }) => linearAt(channel, [atS - 5], 120)[0]!))
  const from = socAt(curve, volt(before))
  const to = socAt(curve, volt(after))
  if (!from || !to || !(to.percent - from.percent > APART_PERCENT)) return null
  const share = (to.percent - from.percent) / 100
  const value = ah.value / share
  const shareOff = Math.hypot(REST_V / from.slope, REST_V / to.slope) / 100
  return { value, plusMinus: Math.hypot(ah.plusMinus / share, (value * shareOff) / share) }
}

/** Percent at a rest voltage, and the curve's slope there, V a percent; null off the curve or where it is flat. */
function socAt(
  curve: readonly (readonly [number, number])[],
  volt: number,
): { percent: number; slope: number } | null {
  for (let i = 1; i < curve.length; i++) {
    const [p0, v0] = curve[i - 1]!
    const [p1, v1] = curve[i]!
    if (!(volt >= v0 && volt <= v1)) continue
    const slope = (v1 - v0) / (p1 - p0)
    return slope > FLAT_V ? { percent: p0 + (volt - v0) / slope, slope } : null
  }
  return null
}
