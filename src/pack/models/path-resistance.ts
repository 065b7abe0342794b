import type { Span } from '../../../shared/units.ts'
import { contactorState } from '../../car/contactor-state.ts'
import { type PackCurrent, packCurrent } from '../../car/pack-current.ts'
import type { Facts } from '../../facts/facts.ts'
import { robustLeastSquares } from '../../math/robust-least-squares.ts'
import { quantile } from '../../math/stats.ts'
import { heardTime } from '../../samples/heard-time.ts'
import { linearAt, type Samples, samplePeriod } from '../../samples/on-one-clock.ts'

export interface PathResistance {
  readonly milliohm: number
  /** 95 %: fit, current gain, voltage scale between the two readings, what is left of their lag. */
  readonly plusMinus: number
  /** The same from the first and the second half alone; null where a half is too gentle. */
  readonly halves: readonly [number | null, number | null]
  /** The same over eight parts of the drive, where a part is not too gentle: mΩ, and its standard error. */
  readonly course: readonly { readonly atS: number; readonly milliohm: number; readonly error: number }[]
  /** Two such parts in a row that differ by far more than both are known: from, to, mΩ. */
  readonly jump: readonly [number, number] | null
  readonly span_s: Span
  readonly rmsA: number
}

const STEP_S = 0.2
/** Voltages are compared only where the current has kept within this share of its span for this long before. */
const STEADY_SHARE = 0.1
const STEADY_S = 0.6
/** Neighbouring residuals hang together over about this long (filters, scan). */
const MEMORY_S = 2
/**
 * How late one reading may be after the other, s, and in a slow log in samples (a scan averaged over several before it is
 * sent; before, too, since both are read between samples there): a column each.
 */
const LAGS_S = [0.3, 0.8, 2]
const LAGS_SAMPLES = [-1, 1, 2, 3, 4, 6, 9]
const SLOW_S = 0.5
/**
 * What the columns leave of a lag between two voltage readings (filters, scan), as a share of what it takes up: 60
 * simulated drives with filters of 0 to 0.2 s.
 */
const LAG_LEFT = 0.02
/** The same in a slow log, where both readings lie between samples: averages over three scans at 1 Hz left 2.4 of 67 mΩ. */
const LAG_LEFT_SLOW = 0.04
/** Scale difference between two voltage readings of one pack. Common practice, no source. */
const VOLTAGE_SCALE = 0.005
/** Span of current, 2nd to 98th percentile, that a line needs. */
const LEAST_SPAN_A = 20
const LEAST_SAMPLES = 50

/**
 * Resistance between two voltage readings of the same current path.
 *
 * Model:  upstream − downstream = c + R · I(t) + Σ aₖ · (I(t) − I(t − lagₖ)); the aₖ take up filter, average and lag of
 *         one reading against the other. Robust line over moments with contactors closed and the current nearly
 *         steady; plain ones over the parts where R jumps, weighed by their current squared.
 * Biased by: a scale difference g of the two readings, by g · pack resistance (in the interval); the current's gain.
 * @returns null where the current was too gentle or too few moments are left
 */
export function pathResistance(facts: Facts, upstream: Samples, downstream: Samples): PathResistance | null {
  const current = facts.once(packCurrent)
  if (!current) return null
  const moments = steadyMoments(facts, current, upstream, downstream)
  if (!moments) return null
  const { now, below, weights, period } = moments
  const n = now.length
  const steady = lineOver(moments, 0, n)
  if (!steady) return null
  const course = courseOf(moments)
  const jump = jumpOf(course, 1000 * steady.ohm)
  // a robust line would follow the longer of two states
  const whole = jump ? { ...steady, ...byCurrentSquared(moments) } : steady
  const sag = robustLeastSquares([new Float64Array(n).fill(1), now], below, weights)
  const packOhm = Math.abs(sag?.coefficients[1] ?? 0)
  const middle = n >> 1
  return {
    milliohm: 1000 * whole.ohm,
    plusMinus:
      1000 *
      Math.hypot(
        1.96 * whole.error,
        (current.gainPercent / 100) * whole.ohm,
        VOLTAGE_SCALE * packOhm,
        (period < SLOW_S ? LAG_LEFT : LAG_LEFT_SLOW) * whole.lagOhm,
      ),
    halves: [lineOver(moments, 0, middle), lineOver(moments, middle, n)].map((half) =>
      half ? 1000 * half.ohm : null,
    ) as [number | null, number | null],
    course,
    jump,
    span_s: moments.span_s,
    rmsA: rmsOf(now),
  }
}

/** Both voltages and the current on one grid, from the first closing of the contactors to their last opening. */
interface Moments {
  readonly span_s: Span
  readonly period: number
  readonly grid: Float64Array
  /** Current, A; and what it has changed by since each lag. */
  readonly now: Float64Array
  readonly late: readonly Float64Array[]
  /** Downstream voltage, and what upstream lies above it, V. */
  readonly below: Float64Array
  readonly drop: Float64Array
  /** 1 where the contactors are closed and the current is nearly steady. */
  readonly weights: Float64Array
}

/** @returns null where the current was too gentle for a line */
function steadyMoments(
  facts: Facts,
  current: PackCurrent,
  upstream: Samples,
  downstream: Samples,
): Moments | null {
  const closed = facts.once(contactorState).of('closed')
  const span_s: Span = [closed[0]?.[0] ?? 0, closed[closed.length - 1]?.[1] ?? facts.drive.durationS]
  const period = Math.max(
    STEP_S,
    ...[upstream, downstream, current].map((each) => samplePeriod(each.timeS) || 0),
  )
  const heard = heardTime(facts.drive.channels, facts.drive.durationS)
  const fromS = heard.heard(span_s[0])
  const grid = Float64Array.from({ length: Math.floor((heard.heard(span_s[1]) - fromS) / period) }, (_, i) =>
    heard.drive(fromS + i * period),
  )
  const samples = { timeS: current.timeS, values: current.amperes }
  const maxGap = Math.max(1, 3 * period)
  const at = (back: number): Float64Array =>
    linearAt(
      samples,
      grid.map((moment) => moment - back),
      maxGap,
    )
  const [now, before, earlier] = [at(0), at(STEADY_S / 2), at(STEADY_S)]
  const lags = period < SLOW_S ? LAGS_S : LAGS_SAMPLES.map((samples) => samples * period)
  const late = lags.map((lagS) => at(lagS).map((value, i) => now[i]! - value))
  const spanA = quantile(now, 0.98) - quantile(now, 0.02)
  if (!(spanA >= LEAST_SPAN_A)) return null
  const below = linearAt(downstream, grid, maxGap)
  const drop = linearAt(upstream, grid, maxGap).map((volts, i) => volts - below[i]!)
  const weights = new Float64Array(grid.length)
  let inside = 0
  for (let i = 0; i < grid.length; i++) {
    while (inside < closed.length && closed[inside]![1] <= grid[i]!) inside++
    const joined = closed.length === 0 || (inside < closed.length && closed[inside]![0] + 1 <= grid[i]!)
    const moved = Math.max(Math.abs(now[i]! - before[i]!), Math.abs(now[i]! - earlier[i]!))
    if (joined && moved < STEADY_SHARE * spanA) weights[i] = 1
  }
  return { span_s, period, grid, now, late, below, drop, weights }
}

const PARTS = 8
/** Rounds of a robust fit that leave it a plain one. */
const PLAIN = 0
/** A jump between two parts: so many standard errors of both, and this share of the whole. Common practice, no source. */
const JUMP_ERRORS = 6
const JUMP_SHARE = 0.4
/** Less is two scales that differ, mΩ; no source. */
const LEAST_JUMP_MOHM = 0.5

/** Plain lines over the parts, each with the weight of its current squared. */
function byCurrentSquared(moments: Moments): { ohm: number; error: number } {
  const { now } = moments
  const size = Math.floor(now.length / PARTS)
  let heat = 0
  let weighted = 0
  let errors = 0
  for (let k = 0; k < PARTS; k++) {
    const line = lineOver(moments, k * size, (k + 1) * size, PLAIN)
    if (!line) continue
    const weight = rmsOf(now.subarray(k * size, (k + 1) * size)) ** 2
    heat += weight
    weighted += weight * line.ohm
    errors += (weight * line.error) ** 2
  }
  return { ohm: weighted / heat, error: Math.sqrt(errors) / heat }
}

function jumpOf(course: PathResistance['course'], milliohm: number): [number, number] | null {
  const least = Math.max(JUMP_SHARE * milliohm, LEAST_JUMP_MOHM)
  // a part that holds the jump itself is known badly: the one after it is looked at as well
  for (const step of [1, 2])
    for (let k = step; k < course.length; k++) {
      const [a, b] = [course[k - step]!, course[k]!]
      const apart = Math.abs(a.milliohm - b.milliohm)
      if (apart > Math.max(JUMP_ERRORS * Math.hypot(a.error, b.error), least)) return [a.milliohm, b.milliohm]
    }
  return null
}

function courseOf(moments: Moments): PathResistance['course'] {
  const { grid } = moments
  const size = Math.floor(grid.length / PARTS)
  return Array.from({ length: PARTS }, (_, k) => {
    const line = lineOver(moments, k * size, (k + 1) * size)
    const atS = grid[Math.min(grid.length - 1, Math.floor((k + 0.5) * size))]!
    return line ? { atS, milliohm: 1000 * line.ohm, error: 1000 * line.error } : null
  }).filter((each) => each !== null)
}

/** The line over a part of the drive; null where too few of its moments count. */
function lineOver(
  { now, late, drop, weights, period }: Moments,
  from: number,
  to: number,
  rounds?: number,
): { ohm: number; error: number; lagOhm: number } | null {
  const part = (values: Float64Array): Float64Array => values.subarray(from, to)
  const used = part(weights).reduce((sum, weight) => sum + weight, 0)
  if (used < LEAST_SAMPLES) return null
  const one = new Float64Array(to - from).fill(1)
  const columns = [one, part(now), ...late.map(part)]
  const line = robustLeastSquares(columns, part(drop), part(weights), rounds)
  if (!line) return null
  return {
    ohm: line.coefficients[1]!,
    error: line.standardErrors[1]! * Math.sqrt(Math.max(1, MEMORY_S / period)),
    lagOhm: Math.abs(line.coefficients.slice(2).reduce((sum, value) => sum + value, 0)),
  }
}

/** Root of the mean square of what can be read. */
function rmsOf(values: Float64Array): number {
  let squares = 0
  let count = 0
  for (const value of values)
    if (Number.isFinite(value)) {
      squares += value * value
      count++
    }
  return Math.sqrt(squares / Math.max(1, count))
}
