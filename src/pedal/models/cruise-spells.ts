import type { Facts } from '../../facts/facts.ts'
import { correlation } from '../../math/correlation.ts'
import { slidingLine } from '../../math/sliding-line.ts'
import { median, quantile } from '../../math/stats.ts'
import { heldAt, linearAt } from '../../samples/on-one-clock.ts'
import { type ReleasedTorque, releasedTorque } from './released-torque.ts'

/** Slower, torque and acceleration are launch and gears; no source. */
const LEAST_KMH = 10
/** Fewer rows give no mass to reckon with; no source. */
const FEWEST_ROWS = 200

/** A stretch in which the log itself proves cruise control, with what proves it. */
export interface CruiseSpell {
  /** Samples of the torque's clock, first and last: from the release on, the way to the held speed included. */
  readonly first: number
  readonly last: number
  /** First sample at the held speed. */
  readonly heldFirst: number
  readonly kmh: number
  readonly why: string
}

/** The contract's figures: begun above, held within ± of the middle, for longer, torque changing by over a third. */
const BEGUN_KMH = 25
const WITHIN_KMH = 3
const HELD_S = 10
const CHANGES_SHARE = 1 / 3
/** Torque's noise is not its change: means over so long are compared, s. */
const SMOOTH_HALF_S = 0.5
/** A controller's answer may come so late, s. */
const ANSWER_S = 3
/** The speed's error is taken against the mean of the last seconds, s: a set speed is moved now and then. */
const ERROR_S = 10
/**
 * How closely torque must follow the speed's error: short spells show more agreement by luck. A wandering torque that
 * nobody controls reaches 0.9 in 12 s but 0.35 in 60 s (its 95 % points; 150 random ones each, 27 November 2026).
 */
const closely = (heldS: number): number => Math.max(0.4, 0.9 - 0.01 * (heldS - HELD_S))
/** The change of torque would have moved the speed so many times more than it did move: the load changed with it. */
const LOAD_TIMES = 2
const LEAST_MOVE_KMH = 4
const WITH_GRADIENT = 0.5

/**
 * Where does the log prove cruise control? The pedal released and the brake not pressed, the speed within ±3 km/h of
 * the middle for over 10 s, begun above 25 km/h, and the torque changing by over a third, either
 *
 * - against the speed's error, up to 3 s late, or
 * - with the gradient, logged or by what the torque's change would have done to the speed on an even road.
 *
 * Constant torque at constant speed proves nothing: a stuck torque settles too.
 * Blind: cruise on an even road that hardly has to work; a torque that swings by itself at a steady rhythm.
 * Source: the contract's rule; the figures are common practice, no source.
 */
export function cruiseSpells(facts: Facts): readonly CruiseSpell[] {
  const all = facts.once(releasedTorque)
  if ('why' in all) return []
  const { data, released, brake } = all
  const { timeS, kmh } = data
  const found: CruiseSpell[] = []
  const perNm = kmhPerSecondPerNm(all)
  let from = -1
  for (let i = 0; i <= timeS.length; i++) {
    const free = i < timeS.length && released[i] === 1 && brake?.[i] !== 1
    if (free && from < 0) from = i
    if (free || from < 0) continue
    let start = from
    for (const [a, b] of heldStretches(timeS, kmh, from, i - 1)) {
      const why = proof(facts, all, a, b, perNm)
      if (why === null) continue
      found.push({ first: start, last: b, heldFirst: a, kmh: median(kmh.subarray(a, b + 1)), why })
      start = b + 1
    }
    from = -1
  }
  return found
}

/** The longest stretches with the speed within ±3 km/h of their middle, in order, none shorter than asked. */
function heldStretches(
  timeS: Float64Array,
  kmh: Float64Array,
  first: number,
  last: number,
): [number, number][] {
  if (timeS[last]! - timeS[first]! <= HELD_S) return []
  let best: [number, number] | null = null
  const highs: number[] = []
  const lows: number[] = []
  let from = first
  for (let i = first; i <= last; i++) {
    const v = kmh[i]!
    if (!(v > BEGUN_KMH)) {
      from = i + 1
      highs.length = 0
      lows.length = 0
      continue
    }
    while (highs.length > 0 && kmh[highs[highs.length - 1]!]! <= v) highs.pop()
    while (lows.length > 0 && kmh[lows[lows.length - 1]!]! >= v) lows.pop()
    highs.push(i)
    lows.push(i)
    while (kmh[highs[0]!]! - kmh[lows[0]!]! > 2 * WITHIN_KMH) {
      from++
      if (highs[0]! < from) highs.shift()
      if (lows[0]! < from) lows.shift()
    }
    const heldS = timeS[i]! - timeS[from]!
    if (heldS > HELD_S && (best === null || heldS > timeS[best[1]]! - timeS[best[0]]!)) best = [from, i]
  }
  if (!best) return []
  return [
    ...heldStretches(timeS, kmh, first, best[0] - 1),
    best,
    ...heldStretches(timeS, kmh, best[1] + 1, last),
  ]
}

function proof(facts: Facts, all: ReleasedTorque, first: number, last: number, perNm: number): string | null {
  const timeS = all.data.timeS.subarray(first, last + 1)
  const kmh = all.data.kmh.subarray(first, last + 1)
  const nm = slidingLine(timeS, all.data.driveNm.subarray(first, last + 1), SMOOTH_HALF_S).level
  const changed = quantile(nm, 0.95) - quantile(nm, 0.05)
  if (!(changed > CHANGES_SHARE * median(nm.map(Math.abs)))) return null
  const heldS = timeS[timeS.length - 1]! - timeS[0]!
  const error = againstThePast(timeS, kmh)
  for (let lateS = 0; lateS <= ANSWER_S; lateS += 0.25) {
    const later = linearAt(
      { timeS, values: nm },
      timeS.map((at) => at + lateS),
      1,
    )
    if (-correlation(error, later).r > closely(heldS))
      return 'the torque worked against the speed\u2019s error'
  }
  const gradient = facts.drive.channels.get('gradient')
  if (gradient && correlation(heldAt(gradient, timeS, 5), nm).r > WITH_GRADIENT)
    return 'the torque changed with the gradient'
  if (perNm > 0) {
    const alone = new Float64Array(timeS.length)
    const middle = median(nm)
    for (let i = 1; i < timeS.length; i++)
      alone[i] = alone[i - 1]! + perNm * ((nm[i]! || middle) - middle) * (timeS[i]! - timeS[i - 1]!)
    const would = span(withoutTrend(timeS, alone))
    if (would > LEAST_MOVE_KMH && would > LOAD_TIMES * span(withoutTrend(timeS, kmh)))
      return 'the torque changed with the load of the road while the speed was held'
  }
  return null
}

/** Speed less its mean over the last seconds; the present only ever sees the past, else any wandering would agree. */
function againstThePast(timeS: Float64Array, kmh: Float64Array): Float64Array {
  let sum = 0
  let from = 0
  return kmh.map((v, i) => {
    sum += v
    while (timeS[from]! < timeS[i]! - ERROR_S) sum -= kmh[from++]!
    return v - sum / (i - from + 1)
  })
}

const span = (values: Float64Array): number => quantile(values, 0.98) - quantile(values, 0.02)

function withoutTrend(timeS: Float64Array, values: Float64Array): Float64Array {
  const line = slidingLine(timeS, values, Number.MAX_VALUE)
  return values.map((value, i) => value - line.level[i]!)
}

/** What 1 N·m does to the speed, km/h per second, by this drive: the slope of acceleration over torque; NaN unknown. */
function kmhPerSecondPerNm({ data }: ReleasedTorque): number {
  const { timeS, kmh, driveNm } = data
  const rate = slidingLine(timeS, kmh, SMOOTH_HALF_S).slope
  const stride = Math.max(1, Math.floor(timeS.length / 20000))
  let n = 0
  let sx = 0
  let sy = 0
  let sxx = 0
  let sxy = 0
  for (let i = 0; i < timeS.length; i += stride) {
    const x = driveNm[i]!
    const y = rate[i]!
    if (!(kmh[i]! > LEAST_KMH) || !Number.isFinite(x + y)) continue
    n++
    sx += x
    sy += y
    sxx += x * x
    sxy += x * y
  }
  const across = sxx - (sx * sx) / n
  return n > FEWEST_ROWS && across > 0 ? (sxy - (sx * sy) / n) / across : Number.NaN
}
