import { MOVING_KMH } from '../../drive/motion.ts'
import type { Facts } from '../../facts/facts.ts'
import { AFTER_S, BEFORE_S, type FallEvent, orderOfFall } from './start-fall.ts'
import { type Opening, openings } from './start-openings.ts'
import { motionIn, speedChannel } from './start-sequences.ts'
import {
  type Change,
  PRESSED_PERCENT,
  samplesIn,
  startSignals,
  type Track,
  valueAt,
} from './start-signals.ts'
import { type JudgedAttempt, judgedAttempts } from './start-verdicts.ts'

/** Drive lost with the key on, or by the key while moving. */
export interface Loss {
  readonly judged: JudgedAttempt
  readonly atS: number
  readonly speedKmh: number
  readonly speedPlusMinusKmh: number
  readonly moving: boolean
  /** In the order of the log; the first entry is what changed first. */
  readonly events: readonly FallEvent[]
  /** Steps that the log's resolution cannot put behind the first one. */
  readonly undecided: readonly string[]
  readonly opening: Opening | null
  /** The chain was whole again in the same attempt. */
  readonly recovered: boolean
  /** The car was in gear or the pedal was pressed: somebody was driving. */
  readonly driving: boolean
}

/** A key that goes off within this of the shut-down at standstill is a driver leaving, s. Common practice, no source. */
const LEAVING_S = 3

/** Where no key is logged, a shut-down at standstill is a driver leaving unless one of these is seen. */
const SEEN_CAUSES = new Set(['supply', 'inertia', 'interlock', 'battery'])

export function losses(facts: Facts): Loss[] {
  return facts
    .once(judgedAttempts)
    .filter((judged) => judged.outcome.ready !== null && judged.reached !== 'contactors')
    .flatMap((judged) => lossesOf(facts, judged))
}

/** The loss that the check sheet is for: the one that drive did not come back from, else the first. */
export function lossToTell(facts: Facts): Loss | null {
  const told = facts.once(losses).filter((each) => each.moving || each.driving)
  const last = facts.once(judgedAttempts).at(-1)
  return told.find((each) => !each.recovered && each.judged === last) ?? told[0] ?? null
}

function lossesOf(facts: Facts, judged: JudgedAttempt): Loss[] {
  const signals = facts.once(startSignals)
  const fromS = judged.outcome.ready!.atS
  const toS = judged.attempt.endS + AFTER_S
  const inside = (change: Change, i: number): boolean => i > 0 && change.atS > fromS && change.atS <= toS
  const triggers: Change[] = []
  const add = (track: Track | null, bad: (value: number) => boolean): void => {
    if (track) triggers.push(...track.changes.filter((c, i) => inside(c, i) && bad(c.value)))
  }
  if (signals.ready)
    triggers.push(
      ...signals.ready.changes.filter((c, i) => inside(c, i) && c.value === 0 && !torqueGoesOn(facts, c)),
    )
  const opened = facts.once(openings)
  triggers.push(...opened.map((each) => each.change).filter((c) => inside(c, 1)))
  if (!signals.ready && signals.inverter)
    add(signals.inverter.track, (code) => ['fault', 'off'].includes(signals.inverter!.meaning(code) ?? ''))
  triggers.sort((a, b) => a.atS - b.atS)
  const found: Loss[] = []
  let lastS = Number.NEGATIVE_INFINITY
  for (const trigger of triggers) {
    if (trigger.atS - lastS < BEFORE_S + AFTER_S) continue
    lastS = trigger.atS
    const loss = lossAt(facts, judged, trigger, opened)
    if (loss) found.push(loss)
  }
  return found
}

function lossAt(
  facts: Facts,
  judged: JudgedAttempt,
  trigger: Change,
  opened: readonly Opening[],
): Loss | null {
  const signals = facts.once(startSignals)
  const speed = speedAt(facts, trigger)
  const moving = Number.isFinite(speed.kmh) ? speed.kmh > MOVING_KMH : turningAt(facts, trigger)
  const keyOff = signals.key?.changes.find(
    (c, i) =>
      i > 0 &&
      c.value === 0 &&
      c.atS > trigger.earliestS - LEAVING_S &&
      c.earliestS < trigger.atS + LEAVING_S,
  )
  if (!moving && keyOff) return null
  if (!moving && trigger.atS > facts.drive.durationS - 0.5) return null
  const opening = opened.find((each) => Math.abs(each.change.atS - trigger.atS) < BEFORE_S) ?? null
  const order = orderOfFall(facts, trigger) ?? (opening?.name === 'main' ? linkAlone(trigger) : null)
  if (!order) return null
  const { events, undecided } = order
  if (!moving && !signals.key && !events.some(({ step }) => SEEN_CAUSES.has(step))) return null
  const first = events[0]!
  const atS = first.change.atS
  const recovered =
    signals.ready?.changes.some((c) => c.value === 1 && c.atS > trigger.atS && c.atS < judged.attempt.endS) ??
    false
  const pedal = samplesIn(facts.drive.channels.get('pedal_position'), atS - 1, atS).values
  return {
    judged,
    atS,
    speedKmh: speed.kmh,
    speedPlusMinusKmh: speed.plusMinus,
    moving,
    events,
    undecided,
    opening,
    recovered,
    driving:
      (signals.selector !== null && valueAt(signals.selector, atS - 0.01) !== 0) ||
      pedal.some((v) => v > PRESSED_PERCENT),
  }
}

/** Nothing but the link tells: which contactor, fuse or plug opened is not seen. */
export const LINK_LEFT = 'the link left the pack: a main contactor, the fuse or the service plug'
const linkAlone = (change: Change) => ({
  events: [{ step: 'positive', what: LINK_LEFT, change }],
  undecided: [],
})

/**
 * Torque this far from zero is made, not noise, N·m; once it is asked off it is gone after this, s. Common practice,
 * no source.
 */
const MADE_NM = 5
const TORQUE_OFF_S = 0.3

/** Does the motor pull or brake on although drive ready is read off? Then its reading went off, not the drive. */
function torqueGoesOn(facts: Facts, off: Change): boolean {
  const { values } = samplesIn(
    facts.drive.channels.get('torque'),
    off.atS + TORQUE_OFF_S,
    off.atS + TORQUE_OFF_S + 1,
  )
  return values.length >= 2 && values.filter((nm) => Math.abs(nm) > MADE_NM).length > 0.5 * values.length
}

function speedAt(facts: Facts, trigger: Change): { kmh: number; plusMinus: number } {
  const channel = speedChannel(facts)
  const { values } = samplesIn(channel, trigger.atS - 3, trigger.atS)
  const last = values.at(-1)
  if (last === undefined) return { kmh: Number.NaN, plusMinus: Number.NaN }
  const before = values.at(-2) ?? last
  return { kmh: Math.abs(last), plusMinus: Math.max(0.5, Math.abs(last - before), 0.01 * Math.abs(last)) }
}

/** Without a road speed: does what shows motion otherwise (wheels, the motor) say that the car moved just before? */
function turningAt(facts: Facts, trigger: Change): boolean {
  const { values, moves } = motionIn(facts, trigger.atS - 3, trigger.atS)
  return values.length > 0 && moves(values.at(-1)!)
}
