import type { ChannelId } from '../../../shared/channels.ts'
import type { Channel } from '../../../shared/drive.ts'
import { type PackCurrent, packCurrent, UNLEARNED_ZERO_A } from '../../car/pack-current.ts'
import { packPower } from '../../car/pack-power.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { channel, type Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { median } from '../../math/stats.ts'
import { heldAt, linearAt } from '../../samples/on-one-clock.ts'
import { clippedCharge } from '../models/clipped-charge.ts'

/** Fewer steps give no line; no source. */
const FEWEST_STEPS = 4

const QUESTION = 'Does the reported state of charge follow the charge that flowed?'
/** Reported and counted are compared every so often, as medians of three, so that a single jump decides nothing. */
const STEP_S = 10
/** What the capacity in the vehicle file may be off. Common practice, no source. */
const CAPACITY_SHARE = 0.05
/** A swing that lets the log say something about the usable capacity, points. */
const DEEP_POINTS = 20

/**
 * Does the reported state of charge move as the charge that flowed says?
 *
 * Model:  counted(t) = reported(0) − 100 · ∫ I dt / capacity; the largest |reported − counted| over the drive.
 * Reads:  soc [%], pack_current [A, discharge positive, zero removed], capacity_ah of the vehicle file.
 * Gives:  `soc-disagrees`, points, magnitude, with a 95 % interval from the current's gain and zero, the capacity
 *         (±5 %) and the reported value's step; with a swing over 20 points the usable capacity in words.
 * Biased by: the current's gain and zero, which grow with time, and a capacity that fell with age; all enter the interval.
 * Blind:  to an error that was there from the start; to anything smaller than the interval.
 * Source: definition of state of charge; limit: common practice, no source.
 */
export function chargeCount(facts: Facts): Answer {
  const soc = channel(facts, 'soc')
  const current = facts.once(packCurrent)
  const capacity = facts.vehicle.pack?.capacity_ah
  if (!soc || !current || !capacity || current.sign === 'unproved') return cannotCount(soc, current, capacity)
  const count = countAgainst(soc, current, facts.once(packPower)?.amperes ?? current.amperes, capacity)
  if (!count) {
    const why = 'current and state of charge overlap too shortly'
    return { questions: [notAssessed('energy', QUESTION, [], why, null, 'points')], findings: [] }
  }
  const { apartPoints, plusMinus, goneAh, swing } = count
  const value = Math.abs(apartPoints)
  const limit = facts.limits.socDisagrees
  const found = value > limit.attention! && value - plusMinus > limit.attention! / 2
  const usable =
    Math.abs(swing) > DEEP_POINTS
      ? ` By both, the usable capacity is about ${((100 * goneAh) / swing).toFixed(1)} Ah.`
      : ''
  const why = `Counted ${(100 * (goneAh / capacity)).toFixed(1)} % gone, reported ${swing.toFixed(1)}; capacity ${capacity} Ah ± ${100 * CAPACITY_SHARE} %.${usable}`
  return {
    questions: [
      assessed('energy', QUESTION, found, why, {
        value: limit.attention! + 1.28 * (plusMinus / 1.96),
        limit: limit.attention,
        unit: 'points',
      }),
    ],
    findings: found
      ? [
          finding({
            kind: 'soc-disagrees',
            subject: { type: 'pack' },
            span_s: [count.startS, count.worstS],
            onset_s: count.worstS,
            value,
            unit: 'points',
            plusMinus,
            limit,
            headline: `Reported state of charge is ${value.toFixed(1)} % ${apartPoints > 0 ? 'above' : 'below'} what the charge that flowed says.`,
            reason: why,
            next_step:
              'Compare the battery unit’s capacity setting and its current sensor’s scale and sign with the car as built.',
            channels: ['soc', 'pack_current'],
          }),
        ]
      : [],
  }
}

function cannotCount(
  soc: Channel | undefined,
  current: PackCurrent | null,
  capacity: number | undefined,
): Answer {
  const missing: ChannelId[] = [
    ...(soc ? [] : (['soc'] as const)),
    ...(current ? [] : (['pack_current'] as const)),
  ]
  const [why, toAssess] =
    missing.length > 0
      ? [`not in the log: ${missing.join(', ')}`, `Log ${missing.join(' and ')}.`]
      : capacity
        ? ['nothing in the log proves which sign of the current is charging', null]
        : ['the vehicle file gives no capacity', 'Give capacity_ah in the vehicle file.']
  return { questions: [notAssessed('energy', QUESTION, missing, why, toAssess, 'points')], findings: [] }
}

interface Count {
  readonly startS: number
  /** Where reported and counted lie farthest apart, by how much (reported above: positive), and how surely, points. */
  readonly worstS: number
  readonly apartPoints: number
  readonly plusMinus: number
  /** Over the whole drive: counted, A·h; reported, points. */
  readonly goneAh: number
  readonly swing: number
}

/** The reported state of charge beside the charge that flowed; null where both overlap too shortly. */
function countAgainst(
  soc: Channel,
  current: PackCurrent,
  amperes: Float64Array,
  capacity: number,
): Count | null {
  const gone = cumulative(current.timeS, amperes)
  const startS = Math.max(soc.timeS[0] ?? 0, current.timeS[0]!)
  const endS = Math.min(soc.timeS[soc.timeS.length - 1] ?? 0, current.timeS[current.timeS.length - 1]!)
  const n = Math.floor((endS - startS) / STEP_S) + 1
  if (!(n >= FEWEST_STEPS)) return null
  const grid = Float64Array.from({ length: n }, (_, i) => startS + i * STEP_S)
  const reported = heldAt(soc, grid, 60)
  const ampHours = linearAt({ timeS: current.timeS, values: gone }, grid)
  const first = median(reported.subarray(0, 2))
  const apart = reported.map((value, i) => value - first + (100 * (ampHours[i]! - ampHours[0]!)) / capacity)
  const smooth = apart.map((_, i) => median(apart.subarray(Math.max(0, i - 1), i + 2)))
  let worst = 1
  for (let i = 1; i < n - 1; i++) if (Math.abs(smooth[i]!) > Math.abs(smooth[worst]!)) worst = i
  return {
    startS,
    worstS: grid[worst]!,
    apartPoints: smooth[worst]!,
    plusMinus: width(current, ampHours[worst]! - ampHours[0]!, grid[worst]! - startS, capacity, soc.step),
    goneAh: ampHours[n - 1]! - ampHours[0]!,
    swing: first - median(reported.subarray(n - 2)),
  }
}

/** 95 % half width of counted minus reported, points. */
function width(
  current: PackCurrent,
  ampHours: number,
  seconds: number,
  capacity: number,
  step: number,
): number {
  const zero = ((current.zeroPlusMinusA ?? UNLEARNED_ZERO_A) * seconds) / 3600
  const share = Math.hypot(current.gainPercent / 100, CAPACITY_SHARE)
  const clipped = clippedCharge(current).reduce((sum, charge) => sum + charge, 0) / 3600
  return Math.hypot((100 * Math.hypot(zero, share * ampHours, clipped)) / capacity, step)
}

/** Ah gone since the first sample, trapezium rule; missing samples are bridged. */
function cumulative(timeS: Float64Array, amperes: Float64Array): Float64Array {
  const out = new Float64Array(timeS.length)
  let sum = 0
  let last = -1
  for (let i = 0; i < timeS.length; i++) {
    if (Number.isFinite(amperes[i]!)) {
      if (last >= 0) sum += (((amperes[i]! + amperes[last]!) / 2) * (timeS[i]! - timeS[last]!)) / 3600
      last = i
    }
    out[i] = sum
  }
  return out
}
