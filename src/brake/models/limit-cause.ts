import { median, quantile, robustSpread } from '../../math/stats.ts'
import { CEILING, FULL_BATTERY, type LimitMarks, POWER, TEMPERATURE, UNKNOWN } from './regen-limits.ts'

/** Moments of the brake trace: held back for no logged reason, and as strong as the map asks. */
interface Moments {
  readonly held: readonly number[]
  readonly free: readonly number[]
  readonly nm: (i: number) => number
  readonly kmh: (i: number) => number
}

/** Fewer moments of either sort say nothing. */
const FEWEST = 10
/** A limit at the highest cell holds it level within this, while free braking does not pass it, V. Common practice, no source. */
const LEVEL_V = 0.012
/** A ceiling stands no further below the cells' usual most, V. Common practice, no source. */
const NEAR_MOST_V = 0.15
/**
 * A battery emptier than this is not full, %; an inverter or motor cooler than this is not hot, cells warmer than
 * this not cold, °C. Common practice, no source.
 */
const FULLISH_PERCENT = 60
const WARM_C = 60
const COLD_C = 15
/**
 * Constant power keeps torque times speed within this share while the speed changes by this factor. Common practice,
 * no source.
 */
const POWER_SPREAD = 0.08
const SPEED_FACTOR = 1.3

/**
 * What sets the held-back moments apart from the free ones? The highest cell at one level, a fuller battery, hotter
 * electronics or colder cells, or torque times speed that stays the same; `UNKNOWN` where nothing does.
 */
export function likelyCause(marks: LimitMarks, { held, free, nm, kmh }: Moments): number {
  if (held.length < FEWEST) return UNKNOWN
  const of = (values: Float64Array, at: readonly number[]): number[] =>
    at.map((i) => values[i]!).filter(Number.isFinite)
  const apart = (values: Float64Array, higher: boolean): number | null => {
    const [there, elsewhere] = [of(values, held), of(values, free)]
    if (there.length < FEWEST) return null
    const middle = median(there)
    if (elsewhere.length < FEWEST) return middle
    return (higher ? middle > quantile(elsewhere, 0.9) : middle < quantile(elsewhere, 0.1)) ? middle : null
  }
  const volts = of(marks.highestV, held)
  if (atCeiling(volts, of(marks.highestV, free), marks.ceilingV)) return CEILING
  if ((apart(marks.soc, true) ?? 0) > FULLISH_PERCENT) return FULL_BATTERY
  if ((apart(marks.hotC, true) ?? 0) > WARM_C) return TEMPERATURE
  if ((apart(marks.coldC, false) ?? Number.POSITIVE_INFINITY) < COLD_C) return TEMPERATURE
  const speeds = held.map(kmh)
  const power = held.map((i) => nm(i) * kmh(i))
  const moved = quantile(speeds, 0.9) > SPEED_FACTOR * quantile(speeds, 0.1)
  return moved && robustSpread(power) < POWER_SPREAD * median(power) ? POWER : UNKNOWN
}

function atCeiling(held: readonly number[], free: readonly number[], mostV: number): boolean {
  if (held.length < FEWEST) return false
  const level = median(held)
  if (!(robustSpread(held) < LEVEL_V && level > mostV - NEAR_MOST_V)) return false
  return free.length < FEWEST || (median(free) < level && quantile(free, 0.95) < level + LEVEL_V)
}
