import { OPEN_OHM, pilotState, SHORTED_OHM } from '../../car/charge-pilot.ts'
import type { Facts } from '../../facts/facts.ts'
import { median } from '../../math/stats.ts'
import { chargeAsked, isFull, PATIENCE_S } from './charge-intent.ts'
import { CHARGE_JUDGES, type ChargeSpan } from './charge-judges.ts'
import { type ChargeStepDeclaration, chargeChainOf, inOrder } from './charge-steps.ts'
import { driverAsked } from './start-intent.ts'
import { firstWhere, samplesIn, startSignals, stretches, type Track, trackOf } from './start-signals.ts'
import type { Verdict } from './start-verdict.ts'

export type ChargeReached = 'unknown' | 'waiting' | 'precharge' | 'contactors' | 'charging'

export interface ChargeStep extends ChargeStepDeclaration {
  readonly verdict: Verdict
}

/** A car that was plugged in, or whose battery unit said that it charges, and how far it came. */
export interface JudgedCharge extends ChargeSpan {
  readonly reached: ChargeReached
  readonly steps: readonly ChargeStep[]
  readonly firstFailed: string | null
  /** The car asked for the charge; false where the log does not tell whether it only waited. */
  readonly asked: boolean
}

/** Steps whose failing is seen in itself: no healthy car that waits shows them with the plug in. */
const IN_THEMSELVES = ['proximity', 'drive-inhibit', 'pilot']
/** A car that waits for its timer is locked, or offered current, and more cannot be told of it. */
const BEGUN = ['lock', 'duty']
/** Faster than this and the plug's signal is not to be believed, km/h. Common practice, no source. */
const ROLLS_KMH = 3

/**
 * Every charge of the log: the plug in, or a state that means charging, and nobody asking for a start with the key on.
 *
 * Chain: `charge-steps.ts`, in the vehicle file's order, else in that of the log's charges that came through. A step
 * whose channel is not logged is not seen. One failed only where the car asked for a charge (`charge-intent.ts`), or
 * where its failing shows in itself; where the car is not full, half a minute went by and no current came.
 * A station without pilot (0 V, no duty) is off: nothing is accused.
 */
export function judgedCharges(facts: Facts): JudgedCharge[] {
  const spans = spansOf(facts)
  const chain = chargeChainOf(facts.vehicle)
  const judged = spans.map((span) => ({
    span,
    steps: chain.map((step) => ({ ...step, verdict: CHARGE_JUDGES[step.name]!(facts, span) })),
  }))
  const ownOrder = facts.vehicle.charge_steps?.order === undefined
  const learned = ownOrder ? learnedOrder(judged.map(({ steps }) => steps)) : []
  return judged.map(({ span, steps }) => judge(facts, span, inOrder(steps, learned)))
}

function judge(facts: Facts, span: ChargeSpan, steps: readonly ChargeStep[]): JudgedCharge {
  const held = (name: string) => steps.find((each) => each.name === name)?.verdict.held
  const charges = held('current') === true
  const asked = chargeAsked(facts, span)
  const failed = steps.find(({ verdict }) => verdict.held === false)?.name ?? null
  // without any current logged a charge that ran looks like one that did not
  const none = held('current') === false
  const may =
    none &&
    failed !== null &&
    span.endS - span.startS > PATIENCE_S &&
    !stationOff(facts, span) &&
    !isFull(facts, span)
  const itself = failed !== null && IN_THEMSELVES.includes(failed)
  const begun = BEGUN.some((name) => held(name) === true)
  return {
    ...span,
    reached: charges
      ? 'charging'
      : held('contactors') === true
        ? 'contactors'
        : firstWhere(facts.once(startSignals).precharge, span.startS, span.endS, (value) => value === 1)
          ? 'precharge'
          : 'waiting',
    steps,
    firstFailed: may && (itself || asked === 'asked' || (asked === 'cannot-tell' && begun)) ? failed : null,
    asked: itself || asked === 'asked',
  }
}

/** No pilot at all: neither a level nor a duty. A pilot whose wire is open looks alike, so nothing is said of it. */
function stationOff(facts: Facts, { startS, endS }: ChargeSpan): boolean {
  const volts = samplesIn(facts.drive.channels.get('pilot_voltage'), startS, endS).values
  const duty = samplesIn(facts.drive.channels.get('pilot_duty'), startS, endS).values
  if (volts.length > 0)
    return volts.every((volt) => pilotState(volt) === 'none') && duty.every((percent) => percent < 3)
  return duty.length > 0 && duty.every((percent) => percent < 1)
}

/** Steps as the charges that came through went by them: by the median of their moments, earliest first. */
function learnedOrder(charges: readonly (readonly ChargeStep[])[]): string[] {
  const good = charges.filter((steps) =>
    steps.some(({ name, verdict }) => name === 'current' && verdict.held === true),
  )
  if (good.length === 0 || good.length === charges.length) return []
  const moments = new Map<string, number[]>()
  for (const steps of good)
    for (const { name, verdict } of steps)
      if (verdict.held && verdict.atS !== null)
        moments.set(name, [...(moments.get(name) ?? []), verdict.atS - plugged(steps)])
  return [...moments].sort((a, b) => median(a[1]) - median(b[1])).map(([name]) => name)
}

const plugged = (steps: readonly ChargeStep[]): number =>
  steps.find(({ name }) => name === 'plug')?.verdict.atS ?? 0

function spansOf(facts: Facts): ChargeSpan[] {
  const { bms, key } = facts.once(startSignals)
  const endS = facts.drive.durationS
  const plug = stretches(plugSeen(facts), (value) => value === 1, endS)
  const charging = bms ? stretches(bms.track, (code) => bms.meaning(code) === 'charging', endS) : []
  const keyedTry = (fromS: number, toS: number): boolean =>
    firstWhere(key, fromS, toS, (value) => value === 1) !== null && driverAsked(facts, fromS, toS) !== null
  const rolls = (fromS: number, toS: number): boolean =>
    samplesIn(facts.drive.channels.get('speed'), fromS, toS).values.some((kmh) => Math.abs(kmh) > ROLLS_KMH)
  return (plug.length > 0 ? plug : charging)
    .map((held) => ({ startS: held.startS, endS: held.endS }))
    .filter(
      (span) =>
        span.endS - span.startS > 1 && !keyedTry(span.startS, span.endS) && !rolls(span.startS, span.endS),
    )
}

/** The plug's own signal; else the proximity resistor, else the pilot's level. */
function plugSeen(facts: Facts): Track | null {
  const { channels } = facts.drive
  return (
    facts.once(startSignals).plug ??
    trackOf(channels.get('proximity_resistance'), (ohm) => (ohm > SHORTED_OHM && ohm < OPEN_OHM ? 1 : 0)) ??
    trackOf(channels.get('pilot_voltage'), (volt) =>
      ['connected', 'asks'].includes(pilotState(volt)) ? 1 : 0,
    )
  )
}
