import type { Facts } from '../analyses/analysis.ts'
import { extremes, median } from '../math/stats.ts'
import { expectedTau } from './precharge-runs.ts'
import { voltages } from './precharge-voltages.ts'
import type { Attempt } from './start-attempts.ts'
import { firstMain, MOVING_KMH, speedChannel } from './start-sequences.ts'
import {
  type Change,
  firstWhere,
  type StartSignals,
  type StateMeaning,
  samplesIn,
  startSignals,
  stretches,
  switchTrack,
  type Track,
  trackOf,
  valueAt,
} from './start-signals.ts'
import type { StepDeclaration } from './start-steps.ts'

/** What the log says of one step in one attempt. */
export interface Verdict {
  /** null = cannot be seen, or not reached. */
  readonly held: boolean | null
  /** When it held, or when it was seen to fail. */
  readonly atS: number | null
  /** Not later than this, for the order of events; null where there is no moment. */
  readonly earliestS: number | null
  readonly why: string
  /** A condition that was false from the start of the attempt on. */
  readonly throughout?: boolean
  /** The failure is seen in itself, so that what came up at the same moment is rather its consequence. */
  readonly selfExplained?: boolean
}

/** What an attempt came to, found before its steps are judged. */
export interface Outcome {
  readonly facts: Facts
  readonly signals: StartSignals
  readonly attempt: Attempt
  readonly firstMainClosed: Change | null
  readonly secondMainClosed: Change | null
  readonly ready: Change | null
  readonly drove: Change | null
  /** Conditions are judged up to here: ready, or the moment the chain fell. */
  readonly untilS: number
}

/** A step is not missed before the car had this long to do it, s. Common practice, no source. */
const PATIENCE_S = 1.5
const READY_PATIENCE_S = 3

export function outcomeOf(facts: Facts, attempt: Attempt): Outcome {
  const signals = facts.once(startSignals)
  const { startS, endS } = attempt
  const closes = (name: 'negative' | 'positive'): Change | null =>
    firstWhere(signals[name], attempt.sequence?.startS ?? startS, endS - 1e-9, (v) => v === 1)
  const early = firstMain(facts)
  const unitSays = (wanted: readonly StateMeaning[]): Change | null =>
    signals.bms
      ? firstWhere(signals.bms.track, startS, endS - 1e-9, (code) =>
          wanted.includes(signals.bms!.meaning(code)!),
        )
      : null
  const firstMainClosed =
    closes(early) ?? (signals[early] ? null : unitSays(['precharge', 'closed', 'drive']))
  const late = early === 'negative' ? 'positive' : 'negative'
  const secondMainClosed =
    closes(late) ?? (signals[late] ? null : (unitSays(['closed', 'drive']) ?? linkUp(facts, attempt)))
  const inverterReady = signals.inverter
    ? firstWhere(signals.inverter.track, startS, endS - 1e-9, (code) =>
        ['ready', 'drive'].includes(signals.inverter!.meaning(code) ?? ''),
      )
    : null
  const readySeen = firstWhere(signals.ready, startS, endS - 1e-9, (v) => v === 1)
  const moved = firstMove(facts, attempt)
  const drove = readySeen || !signals.ready ? moved : null
  const ready = readySeen ?? (signals.ready ? null : (inverterReady ?? drove))
  return {
    facts,
    signals,
    attempt,
    firstMainClosed,
    secondMainClosed,
    ready,
    drove,
    untilS: ready ? Math.max(ready.atS, startS) : lastSeenBefore(attempt),
  }
}

/** The last moment that surely belongs to the attempt: the change that ended it lies after it. */
function lastSeenBefore(attempt: Attempt): number {
  const earliest = attempt.fell?.earliestS ?? attempt.endS
  return Number.isFinite(earliest) ? Math.max(attempt.startS, Math.min(earliest, attempt.endS)) : attempt.endS
}

function firstMove(facts: Facts, attempt: Attempt): Change | null {
  const { timeS, values } = samplesIn(speedChannel(facts), attempt.startS, attempt.endS)
  const at = values.findIndex((v, i) => Math.abs(v) > MOVING_KMH && Math.abs(values[i + 1] ?? v) > MOVING_KMH)
  return at < 0 ? null : { atS: timeS[at]!, earliestS: timeS[at - 1] ?? timeS[at]!, value: 1 }
}

/** The link standing at pack voltage for half a second: both mains closed, where no contactor says so. */
function linkUp(facts: Facts, attempt: Attempt): Change | null {
  const volts = facts.once(voltages)
  const link = facts.drive.channels.get('link_voltage')
  const { timeS, values } = samplesIn(link, attempt.startS, attempt.endS)
  const packV = volts.packV(attempt.startS, attempt.startS + 2)
  if (!(packV > 20)) return null
  const at = values.findIndex((v) => v / volts.linkRatio > 0.985 * packV)
  if (at < 0 || timeS.at(-1)! - timeS[at]! < 0.5) return null
  return { atS: timeS[at]!, earliestS: timeS[at - 1] ?? timeS[at]!, value: 1 }
}

type Judge = (outcome: Outcome) => Verdict

const unseen = (why: string): Verdict => ({ held: null, atS: null, earliestS: null, why })
const yes = (change: Change | null, why: string): Verdict => ({
  held: true,
  atS: change && Number.isFinite(change.earliestS) ? change.atS : null,
  earliestS: change?.earliestS ?? null,
  why,
})
const no = (
  atS: number,
  why: string,
  more: Partial<Pick<Verdict, 'earliestS' | 'throughout' | 'selfExplained'>> = {},
): Verdict => ({ held: false, atS, earliestS: atS, why, ...more })

const notLogged = (outcome: Outcome, ids: readonly string[]): string => {
  const unproved = ids.find((id) => outcome.facts.drive.channels.has(id))
  return unproved
    ? `${unproved} is logged, but nothing in the log or its name proves which value means what`
    : `not logged (${ids.join(', ')})`
}

/** A switch that must stay at one value through the attempt. */
const staysAt =
  (id: string, wanted: 0 | 1, good: string, bad: string): Judge =>
  (outcome) => {
    const track = switchTrack(outcome.facts, id)
    if (!track) return unseen(notLogged(outcome, [id]))
    const { startS } = outcome.attempt
    const fell = outcome.attempt.fell
    const until = outcome.ready ? outcome.untilS : Math.max(outcome.untilS, fell?.atS ?? 0)
    const first = valueAt(track, startS)
    if (Number.isNaN(first) && track.changes[0]!.atS > until)
      return unseen(`${id} has no sample in the attempt`)
    const off = track.changes.find((c) => c.atS > startS && c.atS <= until && c.value !== wanted)
    const wrongAtStart = Number.isFinite(first) && first !== wanted
    const back = track.changes.find((c) => c.atS > startS && c.value === wanted)
    if (wrongAtStart) {
      if (back && back.atS <= (outcome.firstMainClosed?.atS ?? until))
        return yes(back, `${good} from ${back.atS.toFixed(2)} s on; before that ${bad}`)
      return no(startS, bad, { throughout: true })
    }
    if (off && off.earliestS <= (fell?.atS ?? Number.POSITIVE_INFINITY))
      return no(off.atS, `${bad} at ${off.atS.toFixed(2)} s`, { earliestS: off.earliestS })
    return yes({ atS: startS, earliestS: startS, value: wanted }, good)
  }

const supply: Judge = ({ facts, attempt, untilS }) => {
  const lv = facts.drive.channels.get('lv_voltage')
  const limit = facts.limits.lvVoltage.attention ?? 10.5
  const { values, timeS } = samplesIn(lv, attempt.startS, untilS)
  if (!lv) return unseen('not logged (lv_voltage)')
  if (values.length === 0) return unseen('lv_voltage has no sample in the attempt')
  const typical = median(values)
  if (typical < limit)
    return no(attempt.startS, `12 V system at ${typical.toFixed(2)} V (median), under ${limit} V`, {
      throughout: true,
    })
  const fallS = attempt.fell?.atS ?? Number.NaN
  const lowAt = values.findIndex((v, i) => v < limit - 2 && Math.abs(timeS[i]! - fallS) < 1)
  if (lowAt >= 0 && attempt.endedBy === 'chain')
    return no(
      timeS[lowAt]!,
      `12 V system fell to ${values[lowAt]!.toFixed(2)} V at ${timeS[lowAt]!.toFixed(2)} s, as the chain fell`,
      { earliestS: timeS[lowAt - 1] ?? timeS[lowAt]! },
    )
  return yes(
    { atS: attempt.startS, earliestS: attempt.startS, value: 1 },
    `12 V system at ${typical.toFixed(2)} V (median), lowest ${extremes(values).low.toFixed(2)} V`,
  )
}

const key: Judge = ({ signals, attempt }) => {
  if (!signals.key) return unseen('not logged (key_on)')
  if (valueAt(signals.key, attempt.endS - 1e-6) !== 1 && valueAt(signals.key, attempt.startS + 1e-6) !== 1)
    return unseen('the key signal is off although the car is awake')
  return attempt.keyOn
    ? yes(attempt.keyOn, `on at ${attempt.keyOn.atS.toFixed(2)} s`)
    : yes(null, 'on already when the attempt begins')
}

const battery: Judge = ({ facts, signals, attempt, untilS, firstMainClosed, secondMainClosed }) => {
  const reasons: string[] = []
  const contactorsSeen = signals[firstMain(facts)] !== null || firstMainClosed !== null
  const cameFirst = (change: Change): boolean =>
    contactorsSeen
      ? change.atS <= (firstMainClosed?.earliestS ?? Number.POSITIVE_INFINITY)
      : change.atS <= attempt.startS + 1
  const { bms } = signals
  const fellS = attempt.fell?.atS ?? untilS
  if (bms?.track.changes.some(({ value }) => bms.meaning(value) !== null)) {
    const fault = firstWhere(
      bms.track,
      attempt.startS + 1e-9,
      Math.min(untilS, fellS),
      (code) => bms.meaning(code) === 'fault',
    )
    if (fault) {
      const from = Math.max(fault.atS, attempt.startS)
      return no(from, `the battery unit’s state is “${bms.word(fault.value)}” from ${from.toFixed(2)} s`, {
        earliestS: fault.earliestS,
        throughout: cameFirst(fault),
      })
    }
    reasons.push('its state is no fault')
  }
  const limits = samplesIn(
    facts.drive.channels.get('discharge_limit'),
    secondMainClosed?.atS ?? untilS,
    attempt.endS,
  ).values
  if (secondMainClosed && limits.length > 0) {
    if (limits.every((v) => Math.abs(v) < 0.5))
      return no(secondMainClosed.atS, 'its discharge limit stays at 0 A with the contactors closed')
    reasons.push(`discharge limit ${Math.abs(median(limits)).toFixed(0)} A`)
  }
  const faults = trackOf(facts.drive.channels.get('bms_faults'))
  if (faults && !facts.drive.channels.get('bms_faults')?.labels) {
    const raised = faults.changes.find(
      (c, i) => i > 0 && c.value > 0 && c.atS >= attempt.startS && c.atS <= Math.min(untilS, fellS),
    )
    if (raised && !contactorsSeen && !cameFirst(raised))
      return unseen(
        `its fault word became ${raised.value} at ${raised.atS.toFixed(2)} s; whether before or after the chain stopped is not seen`,
      )
    if (raised)
      return no(raised.atS, `its fault word became ${raised.value} at ${raised.atS.toFixed(2)} s`, {
        earliestS: raised.earliestS,
        throughout: cameFirst(raised),
      })
    if (valueAt(faults, attempt.startS) === 0) reasons.push('no fault bit is up')
  }
  if (reasons.length === 0)
    return unseen(
      bms
        ? 'bms_state is logged, but the vehicle file gives its codes no words'
        : 'not logged (bms_state, bms_faults)',
    )
  return yes({ atS: attempt.startS, earliestS: attempt.startS, value: 1 }, reasons.join(', '))
}

const isolation: Judge = ({ facts, attempt, untilS }) => {
  const channel = facts.drive.channels.get('isolation_resistance')
  if (!channel) return unseen('not logged (isolation_resistance)')
  const { values } = samplesIn(channel, attempt.startS, untilS)
  const settled = values.slice(-3)
  const packV = facts.once(voltages).highestV
  if (settled.length < 2) return unseen('fewer than two isolation readings in the attempt')
  if (!(packV > 20)) return unseen('no pack voltage to set the isolation reading against')
  const limit = facts.vehicle.isolation_min_ohm_per_volt ?? facts.limits.isolation.attention ?? 500
  const perVolt = (median(settled) * 1000) / packV
  return perVolt < limit
    ? no(attempt.startS, `${perVolt.toFixed(0)} Ω/V, under ${limit} Ω/V`, { throughout: true })
    : yes({ atS: attempt.startS, earliestS: attempt.startS, value: 1 }, `${perVolt.toFixed(0)} Ω/V`)
}

/** Commanded closed without feedback for longer than a contactor takes, s. Common practice, no source. */
const CLOSING_S = 0.3

function refused(outcome: Outcome, name: 'negative' | 'positive' | 'precharge'): number | null {
  const command = switchTrack(outcome.facts, `contactor_${name}_command`)
  const feedback = switchTrack(outcome.facts, `contactor_${name}_feedback`)
  if (!command || !feedback) return null
  const asked = stretches(command, (v) => v === 1, outcome.attempt.endS).find(
    (each) =>
      each.startS >= outcome.attempt.startS - 0.1 &&
      each.startS < outcome.attempt.endS &&
      each.endS - each.startS > CLOSING_S &&
      firstWhere(feedback, each.startS, each.endS, (v) => v === 1) === null,
  )
  return asked?.startS ?? null
}

const mainContactor =
  (name: 'negative' | 'positive'): Judge =>
  (outcome) => {
    const { signals, attempt, facts } = outcome
    const early = firstMain(facts) === name
    const closed = early ? outcome.firstMainClosed : outcome.secondMainClosed
    const sagged = closed && !early ? linkAfterClosing(outcome, closed) : null
    if (closed && sagged !== null) return no(closed.atS, sagged, { selfExplained: true })
    if (closed)
      return yes(
        closed,
        signals[name]
          ? `closed at ${closed.atS.toFixed(2)} s`
          : 'closed, by the battery unit’s state or the link voltage',
      )
    const asked = refused(outcome, name)
    if (asked !== null)
      return no(asked, `commanded at ${asked.toFixed(2)} s, and its feedback never came`, {
        selfExplained: true,
      })
    const unitSpeaks = signals.bms?.track.changes.some(({ value }) => signals.bms!.meaning(value) !== null)
    if (!signals[name] && !unitSpeaks) return unseen(notLogged(outcome, [`contactor_${name}`]))
    if (early) {
      if (attempt.endS - attempt.startS < PATIENCE_S) return unseen('the attempt was too short to tell')
      if (!signals[name] && attempt.run) return yes(null, 'precharge ran, so it was closed')
      return no(
        attempt.startS + PATIENCE_S,
        signals[name] ? 'never closed' : 'the battery unit never asked for it',
        {
          throughout: true,
        },
      )
    }
    const before = prechargeVerdict(outcome)
    if (
      before.held === null &&
      attempt.run === null &&
      signals[name] &&
      !signals.precharge &&
      !signals[firstMain(facts)]
    )
      return attempt.endS - attempt.startS < READY_PATIENCE_S
        ? unseen('the attempt was too short to tell')
        : no(attempt.startS + READY_PATIENCE_S, 'never closed; what comes before it in the chain is not seen')
    if (before.held !== true) return unseen('not reached')
    return no(before.atS ?? attempt.endS, 'not closed although the link was up')
  }

/** The link falls away once precharge lets go: the contactor that reads closed does not conduct. */
function linkAfterClosing(outcome: Outcome, closed: Change): string | null {
  const { facts, signals, attempt } = outcome
  if (outcome.drove) return null
  const released = signals.precharge?.changes.find((c) => c.value === 0 && c.atS >= closed.atS)
  if (signals.precharge && !released) return null
  const fromS = (released ?? closed).atS + 0.2
  const until = lastSeenBefore(attempt)
  const volts = facts.once(voltages)
  const { values } = samplesIn(facts.drive.channels.get('link_voltage'), fromS, until)
  const packV = volts.packV(fromS, until)
  const late = values.slice(Math.floor(values.length / 2)).map((v) => v / volts.linkRatio)
  if (late.length < 2 || !(packV > 20) || Math.max(...late) > 0.85 * packV) return null
  return `reads closed at ${closed.atS.toFixed(2)} s, but the link fell to ${median(late).toFixed(0)} V of ${packV.toFixed(0)} V once precharge let go: it does not conduct`
}

/** A curve only nears its final value: this much of a percent is below any sensor's step. */
const BELOW_ANY_STEP = 0.001

/** Kept apart from the table: the second main contactor asks for it. */
function prechargeVerdict(outcome: Outcome): Verdict {
  const { attempt, facts, secondMainClosed, firstMainClosed, signals } = outcome
  const { run } = attempt
  const ready = facts.vehicle.precharge?.ready_percent ?? facts.limits.prechargeReached.attention ?? 95
  if (!run) {
    if (!attempt.startSeen) return unseen('start not seen: the log opens after it')
    const asked = refused(outcome, 'precharge')
    if (asked !== null)
      return no(asked, `its contactor was commanded at ${asked.toFixed(2)} s, and its feedback never came`, {
        selfExplained: true,
      })
    if (secondMainClosed) return unseen('no precharge is seen before the main contactors closed')
    if (firstMainClosed && signals.precharge && attempt.endS - firstMainClosed.atS > PATIENCE_S)
      return no(firstMainClosed.atS, 'the precharge contactor never closed')
    return unseen(firstMainClosed ? 'not seen' : 'not reached')
  }
  const lasted = run.endS - run.startS
  const reached = run.reached
  if (!reached) {
    if (run.closing)
      return yes(
        run.closing,
        `the positive contactor closed ${lasted.toFixed(2)} s later; link voltage not seen`,
      )
    const late = firstMain(facts) === 'negative' ? signals.positive : signals.negative
    const endSeen = run.seenBy === 'battery unit' || (run.seenBy === 'contactor' && late !== null)
    if (!endSeen) return unseen('its link voltage, and what followed it, are not seen')
    if (lasted > 3 * expectedTau(facts, 0.5) || lasted > PATIENCE_S)
      return no(
        run.startS,
        `ran for ${lasted.toFixed(2)} s and nothing followed; the link voltage is not seen`,
      )
    return unseen('cut short, link voltage not seen')
  }
  const share = `${run.bound === 'at-least' ? 'at least ' : ''}${reached.value.toFixed(1)} %`
  if (run.closing) {
    if (run.bound === 'exact' && reached.high < ready)
      return no(
        run.closing.atS,
        `the link was at ${share} of pack voltage when the contactor closed, under ${ready} %`,
      )
    return yes(run.closing, `link at ${share} of pack voltage after ${lasted.toFixed(2)} s`)
  }
  if (reached.value >= ready - BELOW_ANY_STEP)
    return yes({ atS: run.endS, earliestS: run.startS, value: 1 }, `link at ${share} of pack voltage`)
  const cutShort =
    !run.levelled && reached.value > 10 && lasted < 4 * (run.tau?.value ?? expectedTau(facts, 0.25))
  if (cutShort || (lasted < 0.3 && !run.levelled))
    return unseen(`cut short after ${lasted.toFixed(2)} s with the link at ${share}`)
  return no(run.endS, `link at ${share} of pack voltage after ${lasted.toFixed(2)} s, under ${ready} %`, {
    earliestS: run.startS,
    selfExplained: reached.value > 10 || lasted > 1,
  })
}

const inverter: Judge = ({ signals, attempt, secondMainClosed, ready }) => {
  const { inverter: unit } = signals
  const known = unit?.track.changes.some(({ value }) => unit.meaning(value) !== null)
  if (!unit || !known) {
    if (ready) return yes(null, 'drive ready came, so it was powered')
    return unseen(
      unit
        ? 'inverter_state is logged, but the vehicle file gives its codes no words'
        : 'not logged (inverter_state)',
    )
  }
  const on = firstWhere(unit.track, attempt.startS, attempt.endS - 1e-9, (code) =>
    ['powered', 'ready', 'drive', 'closed'].includes(unit.meaning(code) ?? ''),
  )
  if (on) return yes(on, `its state became “${unit.word(on.value)}”`)
  if (ready) return yes(null, 'drive ready came, so it was powered')
  const fault = firstWhere(unit.track, attempt.startS, attempt.endS, (code) => unit.meaning(code) === 'fault')
  if (fault && secondMainClosed) return no(fault.atS, `its state is “${unit.word(fault.value)}”`)
  if (!secondMainClosed) return unseen('not reached')
  if (attempt.endS - secondMainClosed.atS < PATIENCE_S) return unseen('the attempt ended too soon to tell')
  return no(
    secondMainClosed.atS,
    `its state stayed “${unit.word(valueAt(unit.track, attempt.endS - 1e-6)) ?? '?'}”`,
  )
}

const brake: Judge = (outcome) => {
  const { facts, signals, attempt, untilS, ready, secondMainClosed } = outcome
  const pressure = samplesIn(
    facts.drive.channels.get('brake_pressure') ?? facts.drive.channels.get('brake_pressure_front'),
    attempt.startS,
    untilS,
  )
  const pressed = pressure.values.length > 0 && quantileHigh(pressure.values) > 2
  if (!signals.brakeSwitch && pressure.values.length === 0)
    return unseen(notLogged(outcome, ['brake_switch', 'brake_pressure']))
  const on = signals.brakeSwitch
    ? firstWhere(signals.brakeSwitch, attempt.startS, untilS, (v) => v === 1)
    : pressed
      ? { atS: attempt.startS, earliestS: attempt.startS, value: 1 }
      : null
  if (on) return yes({ ...on, atS: Math.max(on.atS, attempt.startS) }, 'seen pressed')
  if (ready) return unseen('not asked for: drive ready came without it')
  if (!secondMainClosed) return unseen('not reached')
  return no(
    secondMainClosed.atS,
    pressed
      ? 'the brake switch stayed off although brake pressure was there'
      : 'the brake was not seen pressed',
    { throughout: true },
  )
}

const quantileHigh = (values: readonly number[]): number =>
  [...values].sort((a, b) => a - b)[Math.floor(values.length * 0.9)]!

const selector: Judge = ({ signals, attempt, untilS, ready, secondMainClosed }) => {
  if (!signals.selector) return unseen('not logged (selector)')
  const waitFrom = secondMainClosed?.atS ?? attempt.startS
  const neutral = firstWhere(signals.selector, waitFrom, untilS, (v) => v === 0)
  if (neutral) return yes({ ...neutral, atS: Math.max(neutral.atS, attempt.startS) }, 'in neutral')
  if (ready) return unseen('not asked for: drive ready came in gear')
  if (Number.isNaN(valueAt(signals.selector, untilS))) return unseen('selector has no sample in the attempt')
  return no(waitFrom, 'stayed in gear', { throughout: true })
}

const pedal: Judge = ({ facts, attempt, untilS, ready, secondMainClosed }) => {
  const [low, high] = facts.vehicle.pedal?.valid_v ?? [0.3, 4.7]
  const waitFrom = secondMainClosed?.atS ?? attempt.startS
  for (const number of [1, 2]) {
    const track = facts.drive.channels.get(`pedal_track_${number}`)
    if (track?.unit !== 'V') continue
    const { values } = samplesIn(track, waitFrom, untilS)
    const typical = median(values)
    if (values.length >= 3 && (typical < low || typical > high) && !ready)
      return no(waitFrom, `track ${number} reads ${typical.toFixed(2)} V, outside ${low} … ${high} V`, {
        throughout: true,
      })
  }
  const position = samplesIn(facts.drive.channels.get('pedal_position'), waitFrom, untilS)
  if (position.values.length === 0) return unseen('not logged (pedal_position)')
  const released = position.values.some((v) => v < 5)
  if (released) return yes({ atS: waitFrom, earliestS: waitFrom, value: 0 }, 'seen released')
  if (ready) return unseen('not asked for: drive ready came with the pedal pressed')
  return no(waitFrom, `never under ${Math.min(...position.values).toFixed(0)} % travel`, { throughout: true })
}

const readyStep: Judge = (outcome) => {
  const { signals, attempt, ready, secondMainClosed } = outcome
  if (ready)
    return yes(ready, signals.ready ? 'drive ready is on' : 'seen by the inverter’s state or by driving')
  if (!signals.ready && !signals.inverter)
    return unseen(notLogged(outcome, ['drive_ready', 'inverter_state']))
  if (
    !signals.ready &&
    !signals.inverter!.track.changes.some(({ value }) => signals.inverter!.meaning(value) !== null)
  )
    return unseen('not logged (drive_ready)')
  if (secondMainClosed) {
    if (attempt.endS - secondMainClosed.atS < READY_PATIENCE_S)
      return unseen('the attempt ended too soon to tell')
    return no(secondMainClosed.atS + READY_PATIENCE_S, 'never came with the contactors closed')
  }
  const contactorsSeen =
    signals.positive || signals.negative || signals.bms || outcome.facts.drive.channels.has('link_voltage')
  if (contactorsSeen) return unseen('not reached')
  if (attempt.endS - attempt.startS < READY_PATIENCE_S) return unseen('the attempt was too short to tell')
  return no(attempt.startS + READY_PATIENCE_S, 'never came')
}

/** Asked for this long without an answer, torque is missed, s. Common practice, no source. */
const TORQUE_PATIENCE_S = 1

const torque: Judge = ({ facts, attempt, ready, drove, signals }) => {
  if (drove) return yes(drove, 'the car moved')
  if (!ready) return unseen('not reached')
  const { channels } = facts.drive
  const answer = channels.get('torque')
  const speed = speedChannel(facts)
  const asked = channels.get('pedal_position') ?? channels.get('torque_request')
  if (!asked || (!answer && !speed)) return unseen('torque, movement or what was asked for is not logged')
  const bar = asked.id === 'pedal_position' ? 10 : 10
  const { timeS, values } = samplesIn(asked, ready.atS, attempt.endS)
  let from = -1
  for (let i = 0; i < timeS.length; i++) {
    const inGear = !signals.selector || valueAt(signals.selector, timeS[i]!) !== 0
    if (!(values[i]! > bar && inGear)) {
      from = -1
      continue
    }
    if (from < 0) from = i
    if (timeS[i]! - timeS[from]! < TORQUE_PATIENCE_S) continue
    const given = samplesIn(answer, timeS[from]!, timeS[i]!).values
    const moved = samplesIn(speed, timeS[from]!, timeS[i]!).values
    const none =
      (given.length > 0 && given.every((v) => Math.abs(v) < 3)) || (given.length === 0 && moved.length > 1)
    if (none && moved.every((v) => Math.abs(v) < MOVING_KMH))
      return no(
        timeS[from]!,
        `the pedal was pressed at ${timeS[from]!.toFixed(2)} s and neither torque nor movement followed`,
      )
  }
  const given = samplesIn(answer, ready.atS, attempt.endS)
  const at = given.values.findIndex((v) => Math.abs(v) > 5)
  if (at >= 0) return yes({ atS: given.timeS[at]!, earliestS: given.timeS[at]!, value: 1 }, 'torque is seen')
  return unseen('not asked for')
}

/** One judge a step. What is not here is a step of the vehicle file, judged by its channel. */
const JUDGES: Readonly<Record<string, Judge>> = {
  supply,
  key,
  plug: staysAt('charge_plug', 0, 'out', 'the charge plug signal says in'),
  interlock: staysAt('interlock_closed', 1, 'closed', 'the interlock loop is open'),
  inertia: staysAt('inertia_closed', 1, 'closed', 'the inertia switch is open'),
  battery,
  isolation,
  negative: mainContactor('negative'),
  precharge: prechargeVerdict,
  positive: mainContactor('positive'),
  inverter,
  brake,
  selector,
  pedal,
  ready: readyStep,
  torque,
}

export function judgeStep(step: StepDeclaration, outcome: Outcome): Verdict {
  const judge = JUDGES[step.name]
  if (judge) return judge(outcome)
  const [id] = step.channels
  if (id === undefined) return unseen('the vehicle file names no channel for it')
  const track: Track | null = trackOf(outcome.facts.drive.channels.get(id))
  if (!track) return unseen(`not logged (${id})`)
  const { startS } = outcome.attempt
  const wanted = step.heldWhen ?? 1
  const held = firstWhere(track, startS, outcome.untilS, (v) => v === wanted)
  return held
    ? yes(held, `${id} is ${wanted}`)
    : no(startS, `${id} never became ${wanted}`, { throughout: true })
}
