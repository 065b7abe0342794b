import type { ChannelId } from '../../../shared/channels.ts'
import type { Channel } from '../../../shared/drive.ts'
import type { Limit } from '../../../shared/limits.ts'
import type { Finding, Question } from '../../../shared/review.ts'
import { type PackCurrent, packCurrent, UNLEARNED_ZERO_A } from '../../car/pack-current.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import type { Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { type HeldRun, heldRuns, worstRun } from '../../math/held.ts'
import { heldAt } from '../../samples/on-one-clock.ts'

/** A limit exceeded for less is the controller catching up. Common practice, no source. */
const HELD_S = 1
/** The inverter acts on a limit up to this old, and the logs' clocks may differ by this much the other way. */
const BEFORE_S = 2
const AFTER_S = 1
/** Closer than this to a limit is keeping it. Common practice, no source. */
const LEAST_A = 3

interface Way {
  readonly kind: 'charge-current-over-limit' | 'discharge-current-over-limit'
  readonly channel: 'charge_limit' | 'discharge_limit'
  /** Sign that makes this direction's current positive. */
  readonly sign: 1 | -1
  readonly word: string
  readonly question: string
}

const WAYS: readonly Way[] = [
  {
    kind: 'charge-current-over-limit',
    channel: 'charge_limit',
    sign: -1,
    word: 'charging',
    question: 'Did charging or regeneration exceed the battery unit’s charge limit?',
  },
  {
    kind: 'discharge-current-over-limit',
    channel: 'discharge_limit',
    sign: 1,
    word: 'discharge',
    question: 'Did the current drawn exceed the battery unit’s discharge limit?',
  },
]

/**
 * Did the current stay above the limit that the battery unit allowed?
 *
 * Model:  |I| in one direction, lower end of its interval (gain, zero, noise), against the highest limit in force
 *         between 2 s before and 1 s after; past it for over 1 s.
 * Reads:  pack_current [A, discharge positive], charge_limit and discharge_limit [A, either sign].
 * Gives:  `charge-current-over-limit`, `discharge-current-over-limit`: largest current held, A, `limit` that in force.
 * Biased by: a limit logged later than it came into force (hence the 2 s before), the current's gain (in the interval).
 * Blind:  overshoots under a second, a limit sent but not logged, currents beyond a clipped sensor's range.
 * Source: the battery unit's own limit; times common practice, no source.
 */
export function chargeLimits(facts: Facts): Answer {
  const current = facts.once(packCurrent)
  const questions: Question[] = []
  const findings: Finding[] = []
  for (const way of WAYS) {
    const limit = facts.drive.channels.get(way.channel)
    const missing: ChannelId[] = [
      ...(current ? [] : (['pack_current'] as const)),
      ...(limit ? [] : ([way.channel] as const)),
    ]
    if (!current || !limit) {
      const toAssess = `Log ${missing.join(' and ')} at 1 Hz or faster.`
      questions.push(
        notAssessed('pack', way.question, missing, `not in the log: ${missing.join(', ')}`, toAssess, 'A'),
      )
      continue
    }
    if (current.sign === 'unproved' && way.sign < 0) {
      const why = 'nothing in the log proves which sign of the current is charging'
      questions.push(notAssessed('pack', way.question, ['pack_current'], why, null, 'A'))
      continue
    }
    const run = longestOver(current, limit, way.sign)
    if (run) findings.push(say(current, limit, way, run))
    const marginA = Math.max(LEAST_A, 3 * current.noiseA)
    questions.push(
      assessed(
        'pack',
        way.question,
        run !== null,
        `Held over ${HELD_S} s, limit in force up to ${BEFORE_S} s before.`,
        {
          value:
            marginA +
            (current.gainPercent / 100) * highest(limit) +
            (current.zeroPlusMinusA ?? UNLEARNED_ZERO_A),
          unit: 'A above the limit',
        },
      ),
    )
  }
  return { questions, findings }
}

const highest = (limit: Channel): number =>
  limit.values.reduce((most, value) => Math.max(most, Math.abs(value) || 0), 0)

interface Over extends HeldRun {
  readonly limitA: number
}

function longestOver(current: PackCurrent, limit: Channel, sign: 1 | -1): Over | null {
  const { timeS } = current
  const inForce = highestAround(limit, timeS)
  const amperes = current.amperes.map((value) => value * sign)
  const gain = current.gainPercent / 100
  const zero = current.zeroPlusMinusA ?? UNLEARNED_ZERO_A
  const margin = Math.max(LEAST_A, 3 * current.noiseA)
  const past = (i: number): boolean => amperes[i]! * (1 - gain) - zero - margin > inForce[i]!
  const run = worstRun(heldRuns(timeS, amperes, past, HELD_S, 1), 1)
  if (!run) return null
  let limitA = Number.POSITIVE_INFINITY
  for (let i = run.first; i <= run.last; i++) limitA = Math.min(limitA, inForce[i]!)
  return { ...run, limitA }
}

/** Highest magnitude of the limit from 2 s before to 1 s after each moment; NaN (never exceeded) where not logged. */
function highestAround(limit: Channel, timeS: Float64Array): Float64Array {
  const offsets = [-BEFORE_S, -BEFORE_S / 2, 0, AFTER_S / 2, AFTER_S]
  const around = offsets.map((off) =>
    heldAt(
      limit,
      timeS.map((at) => at + off),
      10,
    ),
  )
  return timeS.map((_, i) => {
    let most = Number.NaN
    for (const values of around) {
      const value = Math.abs(values[i]!)
      if (!(value <= most)) most = Number.isNaN(value) ? most : value
    }
    return most
  })
}

function say(current: PackCurrent, limit: Channel, way: Way, run: Over): Finding {
  const { timeS } = current
  const plusMinus = (current.gainPercent / 100) * run.level + (current.zeroPlusMinusA ?? UNLEARNED_ZERO_A)
  const bar: Limit = {
    attention: run.limitA,
    stop: null,
    unit: 'A',
    source: `the battery unit’s own limit (${limit.from})`,
  }
  const lasted = timeS[run.last]! - timeS[run.first]!
  return finding({
    kind: way.kind,
    subject: { type: 'pack' },
    span_s: [timeS[run.first]!, timeS[run.last]!],
    value: run.level,
    unit: 'A',
    plusMinus,
    limit: bar,
    headline: `${way.sign < 0 ? 'Charging' : 'Discharge'} current of ${run.level.toFixed(0)} A, where the battery unit allowed ${run.limitA.toFixed(0)} A.`,
    reason: `The ${way.word} current stayed above the limit for ${lasted.toFixed(1)} s, its tolerance allowed for.`,
    next_step:
      way.sign < 0
        ? 'Check that the inverter reads the battery unit’s charge limit, and how its regeneration is capped at this state of charge and temperature.'
        : 'Check that the inverter reads the battery unit’s discharge limit, and the torque limit set in it.',
    cautions: [],
    channels: ['pack_current', limit.id],
  })
}
