import type { StateMeaning } from '../../car/unit-state.ts'
import { LIVE_V } from '../../drive/live-volts.ts'
import type { Facts } from '../../facts/facts.ts'
import { voltages } from './precharge-voltages.ts'
import type { Attempt } from './start-attempts.ts'
import { firstMain, motionIn } from './start-sequences.ts'
import {
  type Change,
  firstWhere,
  PRESSED_PERCENT,
  type StartSignals,
  samplesIn,
  startSignals,
  valueAt,
} from './start-signals.ts'

/** A link that is up stays up so long; no source. */
const STAYS_S = 0.5

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
  // A log written on change that begins in mid drive says nothing of drive ready until it goes.
  const readyUnknown = moved !== null && !Number.isFinite(valueAt(signals.ready, moved.atS))
  const drove = readySeen || readyUnknown ? moved : null
  const waiting = inverterReady && !askedFor(facts, signals, inverterReady.atS, endS) ? inverterReady : null
  const ready = readySeen ?? (signals.ready ? waiting : (inverterReady ?? drove))
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

/** Did anybody select a gear or press the pedal once the inverter was ready? Until then no drive is refused. */
function askedFor(facts: Facts, signals: StartSignals, fromS: number, toS: number): boolean {
  const pedal = samplesIn(facts.drive.channels.get('pedal_position'), fromS, toS).values
  if (pedal.some((v) => v > PRESSED_PERCENT)) return true
  const selector = signals.selector
  return (
    selector === null ||
    valueAt(selector, fromS) !== 0 ||
    selector.changes.some((c) => c.value !== 0 && c.atS > fromS && c.atS < toS)
  )
}

/** The last moment that surely belongs to the attempt: the change that ended it lies after it. */
export function lastSeenBefore(attempt: Attempt): number {
  const earliest = attempt.fell?.earliestS ?? attempt.endS
  return Number.isFinite(earliest) ? Math.max(attempt.startS, Math.min(earliest, attempt.endS)) : attempt.endS
}

function firstMove(facts: Facts, attempt: Attempt): Change | null {
  const { timeS, values, moves } = motionIn(facts, attempt.startS, attempt.endS)
  const at = values.findIndex((v, i) => moves(v) && moves(values[i + 1] ?? v))
  return at < 0 ? null : { atS: timeS[at]!, earliestS: timeS[at - 1] ?? timeS[at]!, value: 1 }
}

/** The link standing at pack voltage for half a second: both mains closed, where no contactor says so. */
function linkUp(facts: Facts, attempt: Attempt): Change | null {
  const volts = facts.once(voltages)
  const link = facts.drive.channels.get('link_voltage')
  const { timeS, values } = samplesIn(link, attempt.startS, attempt.endS)
  const packV = volts.packV(attempt.startS, attempt.startS + 2)
  if (!(packV > LIVE_V)) return null
  const at = values.findIndex((v) => v / volts.linkRatio > 0.985 * packV)
  if (at < 0 || timeS.at(-1)! - timeS[at]! < STAYS_S) return null
  return { atS: timeS[at]!, earliestS: timeS[at - 1] ?? timeS[at]!, value: 1 }
}
