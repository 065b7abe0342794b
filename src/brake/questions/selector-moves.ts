import type { Finding } from '../../../shared/review.ts'
import type { Span } from '../../../shared/units.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { channel, type Facts, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { duration, spansWhere } from '../../math/spans.ts'
import { heldAt, linearAt, staleAfter } from '../../samples/on-one-clock.ts'

const MOVED = 'Was the selector moved while the car was moving?'
const DIRECTION = 'Does the car go the way that the selector says?'

/** Shunting changes direction while still rolling; faster nobody means it, km/h. Common practice, no source. */
const ROLLS_KMH = 10
/** A rollback on a slope is over sooner, and slower. Common practice, no source. */
const WRONG_WAY_S = 2
/** So many changes in so short a time are no hand's, s. */
const HAND_S = 2
const MOST_BY_HAND = 3
/** Turning, rpm; and so long each way before a sign of the motor's speed is believed, s; no source. */
const TURNS_RPM = 50
const EACH_WAY_S = 1
const PRACTICE = 'common practice, no source'

interface Move {
  readonly atS: number
  readonly from: number
  readonly to: number
  readonly kmh: number
}

/**
 * Was the selector moved at speed, does it flicker, and does the motor turn the way it says?
 *
 * Model:  changes of the selector over 10 km/h: between forward and reverse attention, from or to neutral a note; more
 *         than three changes in 2 s: a contact, no hand. Direction: the motor's sign in forward, where it takes both signs
 *         in the log, against the selector over 10 km/h for over 2 s.
 * Reads:  selector (−1, 0, 1), speed [km/h], motor_speed [rpm, signed].
 * Gives:  `selector-moved` [km/h], `direction-against-selector` [s]; attention at most.
 * Biased by: a selector that is logged late.
 * Blind:  a motor speed without sign; torque the wrong way is another question.
 * Source: common practice, no source.
 */
export function selectorMoves(facts: Facts): Answer {
  const selector = channel(facts, 'selector')
  const speed = channel(facts, 'speed')
  if (!selector || !speed) {
    const missing = unlogged(facts, ['selector', 'speed'])
    const why = 'selector and speed are not both in the log'
    const to = 'Log the selector’s position and the speed.'
    return {
      questions: [
        notAssessed('brake', MOVED, missing, why, to, 'km/h'),
        notAssessed('brake', DIRECTION, missing, why, to, 's'),
      ],
      findings: [],
    }
  }
  const moves: Move[] = []
  const kmh = linearAt(speed, selector.timeS, 2)
  for (let i = 1; i < selector.values.length; i++) {
    const [from, to] = [selector.values[i - 1]!, selector.values[i]!]
    if (from !== to && Number.isFinite(from + to) && Math.abs(kmh[i]!) > ROLLS_KMH)
      moves.push({ atS: selector.timeS[i]!, from, to, kmh: Math.abs(kmh[i]!) })
  }
  const moved = moves.length > 0 ? [sayMoved(moves)] : []
  const way = direction(facts)
  return {
    questions: [
      assessed('brake', MOVED, moved.length > 0, `${moves.length} changes over ${ROLLS_KMH} km/h.`, {
        value: ROLLS_KMH,
        unit: 'km/h',
      }),
      way.question,
    ],
    findings: [...moved, ...way.findings],
  }
}

const PLACE: Readonly<Record<string, string>> = { '-1': 'reverse', '0': 'neutral', '1': 'forward' }

/** Between forward and reverse, at once or by way of neutral. */
function swaps(moves: readonly Move[]): Move[] {
  return moves.filter(
    (each, i) =>
      each.from * each.to < 0 ||
      moves.slice(0, i).some((before) => each.atS - before.atS < HAND_S && before.from * each.to < 0),
  )
}

function burst(moves: readonly Move[]): readonly Move[] {
  for (let i = 0; i + MOST_BY_HAND < moves.length; i++)
    if (moves[i + MOST_BY_HAND]!.atS - moves[i]!.atS < HAND_S) return moves.slice(i, i + MOST_BY_HAND + 1)
  return []
}

function sayMoved(moves: readonly Move[]): Finding {
  const turned = swaps(moves)
  const chatter = burst(moves)
  const worst = (turned.length > 0 ? turned : moves).reduce((a, b) => (b.kmh > a.kmh ? b : a))
  const loud = turned.length > 0 || chatter.length > 0
  const place = (value: number): string => PLACE[String(value)] ?? String(value)
  return finding({
    kind: 'selector-moved',
    subject: { type: 'selector' },
    span_s: chatter.length > 0 ? [chatter[0]!.atS, chatter.at(-1)!.atS] : [worst.atS, worst.atS],
    value: worst.kmh,
    unit: 'km/h',
    plusMinus: 1,
    limit: { attention: ROLLS_KMH, stop: null, unit: 'km/h', source: PRACTICE },
    severity: loud ? 'attention' : 'note',
    question: MOVED,
    headline:
      chatter.length > 0
        ? `The selector’s signal flickers: over ${MOST_BY_HAND} changes within ${HAND_S} s at ${worst.kmh.toFixed(0)} km/h`
        : `The selector went from ${place(worst.from)} to ${place(worst.to)} at ${worst.kmh.toFixed(0)} km/h`,
    reason: `${moves.length} change${moves.length === 1 ? '' : 's'} over ${ROLLS_KMH} km/h in all, ${turned.length} of them between forward and reverse. A hand that slips and a loose contact look alike.`,
    next_step:
      'With the car standing and not ready, move the selector slowly through its places and its cable by hand, and watch its signal.',
    channels: ['selector', 'speed'],
  })
}

function direction(facts: Facts): { question: Answer['questions'][number]; findings: Finding[] } {
  const motor = channel(facts, 'motor_speed')
  const selector = channel(facts, 'selector')!
  const missing = unlogged(facts, ['motor_speed'])
  if (!motor)
    return {
      question: notAssessed(
        'brake',
        DIRECTION,
        missing,
        'the motor’s speed is not in the log',
        'Log the motor’s speed with its sign.',
        's',
      ),
      findings: [],
    }
  const { timeS, values } = motor
  const place = heldAt(selector, timeS, staleAfter(selector))
  const kmh = linearAt(channel(facts, 'speed')!, timeS, 2)
  const turning = (sign: number): number => duration(spansWhere(timeS, (i) => sign * values[i]! > TURNS_RPM))
  const time = (way: number, sign: number): number =>
    duration(spansWhere(timeS, (i) => place[i] === way && sign * values[i]! > TURNS_RPM))
  if (Math.min(turning(1), turning(-1)) < EACH_WAY_S || time(1, 1) === time(1, -1))
    return {
      question: notAssessed(
        'brake',
        DIRECTION,
        [],
        'the motor’s speed does not take both signs, or was never seen in forward',
        null,
        's',
      ),
      findings: [],
    }
  const forward = time(1, 1) > time(1, -1) ? 1 : -1
  const wrong = spansWhere(
    timeS,
    (i) =>
      (place[i] === 1 || place[i] === -1) &&
      Math.abs(kmh[i]!) > ROLLS_KMH &&
      forward * Math.sign(values[i]!) === -place[i]! &&
      Math.abs(values[i]!) > TURNS_RPM,
  )
  const worst = wrong.reduce<Span | null>((a, b) => (!a || b[1] - b[0] > a[1] - a[0] ? b : a), null)
  const seconds = worst ? worst[1] - worst[0] : 0
  const found = worst !== null && seconds > WRONG_WAY_S
  return {
    question: assessed(
      'brake',
      DIRECTION,
      found,
      `Longest the other way over ${ROLLS_KMH} km/h: ${seconds.toFixed(1)} s.`,
      { value: WRONG_WAY_S, unit: 's' },
    ),
    findings: found ? [sayDirection(worst, seconds)] : [],
  }
}

function sayDirection(span: Span, seconds: number): Finding {
  return finding({
    kind: 'direction-against-selector',
    subject: { type: 'selector' },
    span_s: span,
    value: seconds,
    unit: 's',
    plusMinus: 0.2,
    limit: { attention: WRONG_WAY_S, stop: null, unit: 's', source: PRACTICE },
    question: DIRECTION,
    headline: `The car went ${seconds.toFixed(1)} s the other way than the selector says, over ${ROLLS_KMH} km/h`,
    reason: 'By the sign that the motor’s speed has in forward for most of the drive.',
    next_step:
      'With the car standing and not ready, compare the selector’s place with its signal; then the motor’s phase order and its sensor’s sign.',
    channels: ['selector', 'speed', 'motor_speed'],
  })
}
