import { LIVE_V } from '../../drive/live-volts.ts'
import { MOVING_KMH } from '../../drive/motion.ts'
import { absence } from '../../facts/facts.ts'
import { FEWEST_FOR_MEDIAN } from '../../math/fewest.ts'
import { median } from '../../math/stats.ts'
import { expectedTau } from './precharge-curve.ts'
import type { Estimate } from './precharge-load.ts'
import type { PrechargeRun } from './precharge-runs.ts'
import { voltages } from './precharge-voltages.ts'
import { lastSeenBefore, type Outcome } from './start-outcome.ts'
import { firstMain, speedChannel } from './start-sequences.ts'
import { type Change, firstWhere, samplesIn, stretches, switchTrack, valueAt } from './start-signals.ts'
import { type Judge, no, notLogged, unseen, type Verdict, yes } from './start-verdict.ts'

/** A precharge that came so far had begun in earnest; no source. */
const BEGAN_PERCENT = 10
/** No precharge is over sooner; no source. */
const SHORTEST_S = 0.3
/** No more than a motor's drag; no source. */
const NO_TORQUE_NM = 3
/** More than a motor's drag; no source. */
const TORQUE_NM = 5

/** A step is not missed before the car had this long to do it, s. Common practice, no source. */
const PATIENCE_S = 1.5
const READY_PATIENCE_S = 3
/** A battery unit may check itself and the isolation this long before it closes anything. */
const WAKE_PATIENCE_S = 5

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

export const mainContactor =
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
    const read = signals[name]?.changes[0]
    if (read && !Number.isFinite(read.earliestS) && read.atS > attempt.startS + WAKE_PATIENCE_S)
      return unseen(`first read at ${read.atS.toFixed(2)} s; what it was before is not in the log`)
    const asked = refused(outcome, name)
    if (asked !== null)
      return no(asked, `commanded at ${asked.toFixed(2)} s, and its feedback never came`, {
        selfExplained: true,
      })
    const unitSpeaks = signals.bms?.track.changes.some(({ value }) => signals.bms!.meaning(value) !== null)
    if (!signals[name] && !unitSpeaks) return unseen(notLogged(outcome.facts, [`contactor_${name}`]))
    if (early) {
      const missed = openThroughPrecharge(outcome, name)
      if (missed !== null)
        return no(missed, 'read open all through precharge, which cannot raise the link without it', {
          selfExplained: true,
        })
      if (attempt.endS - attempt.startS < WAKE_PATIENCE_S) return unseen('the attempt was too short to tell')
      if (!signals[name] && attempt.run) return yes(null, 'precharge ran, so it was closed')
      return no(
        attempt.startS + WAKE_PATIENCE_S,
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

/** Shorter than this a precharge may be over before a slow row shows the main contactor, s. Common practice, no source. */
const PRECHARGE_SEEN_S = 0.5
/** A link that rose this far had its path, whatever the contactor reads, percent. */
const ROSE_PERCENT = 10

/** When precharge began although the main contactor that it needs read open from its beginning to its end; else null. */
function openThroughPrecharge({ attempt, facts }: Outcome, name: 'negative' | 'positive'): number | null {
  const { run } = attempt
  if (run?.seenBy !== 'contactor' || run.endS - run.startS < PRECHARGE_SEEN_S) return null
  if ((run.reached?.value ?? Number.POSITIVE_INFINITY) > ROSE_PERCENT) return null
  const { values } = samplesIn(facts.drive.channels.get(`contactor_${name}`), run.startS, run.endS)
  return values.length >= 2 && values.every((value) => value === 0) ? run.startS : null
}

/** A closed pair of contactors holds the link this near the pack at standstill. Common practice, no source. */
const CONDUCTS = 0.93

/** The link falls away once precharge lets go: the contactor that reads closed does not conduct. */
function linkAfterClosing(outcome: Outcome, closed: Change): string | null {
  const { facts, signals, attempt } = outcome
  if (outcome.drove) return null
  const released = signals.precharge?.changes.find((c) => c.value === 0 && c.atS >= closed.atS)
  if (!released && valueAt(signals.precharge, attempt.endS) === 1) return null
  const fromS = released ? released.atS + 0.2 : closed.atS + 1
  const until = lastSeenBefore(attempt)
  const volts = facts.once(voltages)
  const { values } = samplesIn(facts.drive.channels.get('link_voltage'), fromS, until)
  const packV = volts.packV(fromS, until)
  const late = values.slice(-Math.max(3, Math.floor(values.length / 4))).map((v) => v / volts.linkRatio)
  if (late.length < FEWEST_FOR_MEDIAN || !(packV > LIVE_V) || Math.max(...late) > CONDUCTS * packV)
    return null
  return `reads closed at ${closed.atS.toFixed(2)} s, but the link fell to ${median(late).toFixed(0)} V of ${packV.toFixed(0)} V once precharge let go: it does not conduct`
}

/** A link under this share of the pack was not brought up. Common practice, no source. */
const DOWN = 0.1

/** Asked for a start, and no contactor tells: the link that stays down shows that nothing closed. */
function linkStaysDown({ facts, attempt }: Outcome): Verdict | null {
  if (attempt.asked === null || attempt.endS - attempt.startS < WAKE_PATIENCE_S) return null
  const { values } = samplesIn(facts.drive.channels.get('link_voltage'), attempt.startS, attempt.endS)
  const volts = facts.once(voltages)
  const high = Math.max(...values)
  if (values.length < FEWEST_FOR_MEDIAN || !(high < DOWN * volts.highestV)) return null
  return no(
    attempt.startS + WAKE_PATIENCE_S,
    `the link stayed down, ${high.toFixed(1)} V at most: nothing brought it up`,
    {
      throughout: true,
    },
  )
}

/** A curve only nears its final value: this much of a percent is below any sensor's step. */
const BELOW_ANY_STEP = 0.001

/** Kept apart from the table: the second main contactor asks for it. */
export function prechargeVerdict(outcome: Outcome): Verdict {
  const { run } = outcome.attempt
  if (!run) return withoutRun(outcome)
  return run.reached ? byShare(outcome, run, run.reached) : byDuration(outcome, run)
}

/** No precharge is seen at all. */
function withoutRun(outcome: Outcome): Verdict {
  const { attempt, facts, secondMainClosed, firstMainClosed, signals } = outcome
  if (!attempt.startSeen) return unseen('start not seen: the log opens after it')
  const asked = refused(outcome, 'precharge')
  if (asked !== null)
    return no(asked, `its contactor was commanded at ${asked.toFixed(2)} s, and its feedback never came`, {
      selfExplained: true,
    })
  if (secondMainClosed) return unseen('no precharge is seen before the main contactors closed')
  if (firstMainClosed && signals.precharge && attempt.endS - firstMainClosed.atS > PATIENCE_S)
    return no(firstMainClosed.atS, 'the precharge contactor never closed')
  const down = firstMainClosed || signals[firstMain(facts)] ? null : linkStaysDown(outcome)
  return down ?? unseen(firstMainClosed ? 'not seen' : 'not reached')
}

/** It ran, but the link voltage is not seen. */
function byDuration({ facts, signals }: Outcome, run: PrechargeRun): Verdict {
  const lasted = run.endS - run.startS
  if (run.closing)
    return yes(
      run.closing,
      `the positive contactor closed ${lasted.toFixed(2)} s later; link voltage not seen`,
    )
  const late = firstMain(facts) === 'negative' ? signals.positive : signals.negative
  const { bms } = signals
  const unitSpeaks = bms?.track.changes.some(({ value }) => bms.meaning(value) !== null) ?? false
  const endSeen =
    run.seenBy === 'battery unit' || (run.seenBy === 'contactor' && (late !== null || unitSpeaks))
  if (!endSeen) return unseen('its link voltage, and what followed it, are not seen')
  if (lasted > 3 * expectedTau(facts, 0.5) || lasted > PATIENCE_S)
    return no(run.startS, `ran for ${lasted.toFixed(2)} s and nothing followed; the link voltage is not seen`)
  return unseen('cut short, link voltage not seen')
}

/** How far the link came, against what the start asks for. */
function byShare({ facts, secondMainClosed }: Outcome, run: PrechargeRun, reached: Estimate): Verdict {
  const ready = facts.vehicle.precharge?.ready_percent ?? facts.limits.prechargeReached.attention ?? 95
  const lasted = run.endS - run.startS
  const share = `${run.bound === 'at-least' ? 'at least ' : ''}${reached.value.toFixed(1)} %`
  if (run.closing) {
    if (run.bound === 'exact' && reached.high < ready)
      return no(
        run.closing.atS,
        `the link was at ${share} of pack voltage when the contactor closed, under ${ready} %`,
      )
    return yes(run.closing, `link at ${share} of pack voltage after ${lasted.toFixed(2)} s`)
  }
  if (secondMainClosed) return yes(secondMainClosed, `link at ${share} of pack voltage, then up whole`)
  if (reached.value >= ready - BELOW_ANY_STEP)
    return yes({ atS: run.endS, earliestS: run.startS, value: 1 }, `link at ${share} of pack voltage`)
  const cutShort =
    !run.levelled &&
    reached.value > BEGAN_PERCENT &&
    lasted < 4 * (run.tau?.value ?? expectedTau(facts, 0.25))
  if (cutShort || (lasted < SHORTEST_S && !run.levelled))
    return unseen(`cut short after ${lasted.toFixed(2)} s with the link at ${share}`)
  return no(run.endS, `link at ${share} of pack voltage after ${lasted.toFixed(2)} s, under ${ready} %`, {
    earliestS: run.startS,
    selfExplained: reached.value > BEGAN_PERCENT || lasted > 1,
  })
}

export const inverter: Judge = ({ facts, signals, attempt, secondMainClosed, ready }) => {
  const { inverter: unit } = signals
  const known = unit?.track.changes.some(({ value }) => unit.meaning(value) !== null)
  if (!unit || !known) {
    if (ready) return yes(null, 'drive ready came, so it was powered')
    return unseen(
      unit
        ? 'inverter_state is logged, but the vehicle file gives its codes no words'
        : `${absence(facts, ['inverter_state'])} (inverter_state)`,
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

export const readyStep: Judge = (outcome) => {
  const { signals, attempt, ready, secondMainClosed } = outcome
  if (ready)
    return yes(ready, signals.ready ? 'drive ready is on' : 'seen by the inverter’s state or by driving')
  if (!signals.ready && !signals.inverter)
    return unseen(notLogged(outcome.facts, ['drive_ready', 'inverter_state']))
  if (
    !signals.ready &&
    !signals.inverter!.track.changes.some(({ value }) => signals.inverter!.meaning(value) !== null)
  )
    return unseen(`${absence(outcome.facts, ['drive_ready'])} (drive_ready)`)
  if (secondMainClosed) {
    if (attempt.endS - secondMainClosed.atS < READY_PATIENCE_S)
      return unseen('the attempt ended too soon to tell')
    return no(secondMainClosed.atS + READY_PATIENCE_S, 'never came with the contactors closed')
  }
  const { bms } = signals
  const contactorsSeen =
    signals.positive !== null ||
    signals.negative !== null ||
    (bms?.track.changes.some(({ value }) => bms.meaning(value) !== null) ?? false) ||
    outcome.facts.drive.channels.has('link_voltage')
  if (contactorsSeen) return unseen('not reached')
  if (attempt.endS - attempt.startS < READY_PATIENCE_S) return unseen('the attempt was too short to tell')
  return no(attempt.startS + READY_PATIENCE_S, 'never came')
}

/** Asked for this long without an answer, torque is missed, s. Common practice, no source. */
const TORQUE_PATIENCE_S = 1

export const torque: Judge = ({ facts, attempt, ready, drove, signals }) => {
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
      (given.length > 0 && given.every((v) => Math.abs(v) < NO_TORQUE_NM)) ||
      (given.length === 0 && moved.length > 1)
    if (none && moved.every((v) => Math.abs(v) < MOVING_KMH))
      return no(
        timeS[from]!,
        `the pedal was pressed at ${timeS[from]!.toFixed(2)} s and neither torque nor movement followed`,
      )
  }
  const given = samplesIn(answer, ready.atS, attempt.endS)
  const at = given.values.findIndex((v) => Math.abs(v) > TORQUE_NM)
  if (at >= 0) return yes({ atS: given.timeS[at]!, earliestS: given.timeS[at]!, value: 1 }, 'torque is seen')
  return unseen('not asked for')
}
