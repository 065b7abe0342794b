import type { Facts } from '../../facts/facts.ts'
import { median } from '../../math/stats.ts'
import { type PrechargeRun, prechargeRuns } from './precharge-runs.ts'
import { type Asked, chargerSeen, driverAsked, unitAsked } from './start-intent.ts'
import { movement, type Sequence, sequences } from './start-sequences.ts'
import {
  type Change,
  firstWhere,
  type StartSignals,
  samplesIn,
  startSignals,
  stretches,
  type Track,
} from './start-signals.ts'

/** A try to start, before its steps are judged. */
export interface Attempt {
  readonly startS: number
  readonly endS: number
  /** 1-based place among the attempts of the log. */
  readonly number: number
  readonly sequence: Sequence | null
  readonly run: PrechargeRun | null
  /** The key coming on, where it is this attempt's start; null where the key was on already or is not seen. */
  readonly keyOn: Change | null
  /** False where the log opens after the start. */
  readonly startSeen: boolean
  /** What ended it: the key, the log, or the chain falling apart with the key on. */
  readonly endedBy: 'key' | 'log' | 'chain'
  /** The chain falling apart (contactors opening, or the key going off). */
  readonly fell: Change | null
  /** How somebody asked for a start, in words; null where the key alone is seen: that is no attempt. */
  readonly asked: string | null
}

/** The key, or the control units being awake where no key is logged. */
function wakeTrack(signals: StartSignals): Track | null {
  if (signals.key) return signals.key
  for (const unit of [signals.bms, signals.inverter]) {
    if (!unit) continue
    const awake = unit.track.changes.map((change) => ({
      ...change,
      value: ['off', 'charging', null].includes(unit.meaning(change.value)) ? 0 : 1,
    }))
    if (unit.track.changes.some((change) => unit.meaning(change.value) !== null))
      return {
        ...unit.track,
        changes: awake.filter((change, i) => i === 0 || change.value !== awake[i - 1]!.value),
      }
  }
  return null
}

/** Every attempt to start that the log shows, in order. Charging with the key on is none. */
export function attempts(facts: Facts): Attempt[] {
  const signals = facts.once(startSignals)
  const all = facts.once(sequences)
  const wake = wakeTrack(signals)
  const taken = new Set<Sequence>()
  const found = stretches(wake, (v) => v === 1, signals.endS).flatMap((span) => {
    const mine = all.filter(
      (each) => !taken.has(each) && each.startS < span.endS && each.endS > span.startS - 0.5,
    )
    for (const each of mine) taken.add(each)
    return mine.length === 0
      ? keyAlone(facts, signals, span)
      : mine.map((sequence, i) => underKey(facts, sequence, span, i === 0))
  })
  for (const sequence of all)
    if (!taken.has(sequence) && (!wake || droveIn(facts, sequence))) found.push(withoutSpan(facts, sequence))
  if (!wake && all.length === 0) {
    const asked = driverAsked(facts, 0, signals.endS)
    if (asked && !chargerSeen(facts, 0, signals.endS)) found.push(withoutKey(asked, signals.endS))
  }
  return found
    .filter((attempt) => !isCharging(facts, attempt))
    .sort((a, b) => a.startS - b.startS)
    .map((attempt, i) => ({ ...attempt, number: i + 1 }))
}

type Unnumbered = Omit<Attempt, 'number'>
type Stretch = ReturnType<typeof stretches>[number]

const runOf = (facts: Facts, sequence: Sequence): PrechargeRun | null =>
  facts.once(prechargeRuns).find((run) => run.sequence === sequence) ?? null

/** The key was on and no chain began: an attempt where somebody asked, or where nothing else wakes the car. */
function keyAlone(facts: Facts, signals: StartSignals, span: Stretch): Unnumbered[] {
  const asked = driverAsked(facts, span.startS, span.endS) ?? unitAsked(facts, span.startS, span.endS)
  // States alone say that the car is awake: parked, charging and asleep cars are too.
  if (!asked && (!signals.key || chargerSeen(facts, span.startS, span.endS))) return []
  const startSeen = Number.isFinite(span.from.earliestS)
  return [
    {
      asked: asked?.by ?? null,
      startS: span.startS,
      endS: span.endS,
      sequence: null,
      run: null,
      keyOn: startSeen ? span.from : null,
      startSeen,
      endedBy: span.to ? 'key' : 'log',
      fell: span.to,
    },
  ]
}

/** A chain that began while the key was on; the first one of it begins with the key. */
function underKey(facts: Facts, sequence: Sequence, span: Stretch, first: boolean): Unnumbered {
  const startSeen = Number.isFinite(span.from.earliestS)
  const withKey =
    span.to !== null && (sequence.opened === null || sequence.opened.atS >= span.to.earliestS - 0.05)
  return {
    asked: BY_ITSELF,
    startS: first ? Math.min(span.startS, sequence.startS) : sequence.startS,
    endS: Math.min(sequence.endS, Math.max(span.endS, sequence.startS)),
    sequence,
    run: runOf(facts, sequence),
    keyOn: first && startSeen ? span.from : null,
    startSeen: sequence.startSeen && (!first || startSeen || !coversStart(sequence, span.startS)),
    endedBy: withKey ? 'key' : sequence.opened ? 'chain' : 'log',
    fell: withKey ? span.to : sequence.opened,
  }
}

/** A chain outside every stretch with the key on. */
const withoutSpan = (facts: Facts, sequence: Sequence): Unnumbered => ({
  asked: BY_ITSELF,
  startS: sequence.startS,
  endS: sequence.endS,
  sequence,
  run: runOf(facts, sequence),
  keyOn: null,
  startSeen: sequence.startSeen,
  endedBy: sequence.opened ? 'chain' : 'log',
  fell: sequence.opened,
})

/** Contactors, precharge, the link or the car itself moved: somebody asked. */
const BY_ITSELF = 'the chain began to close'

/** No key and no contactor tells: from the moment that somebody asked to the end of the log. */
const withoutKey = (asked: Asked, endS: number): Unnumbered => ({
  startS: asked.atS,
  endS,
  asked: asked.by,
  sequence: null,
  run: null,
  keyOn: null,
  startSeen: asked.atS > 0,
  endedBy: 'log',
  fell: null,
})

const coversStart = (sequence: Sequence, atS: number): boolean =>
  !sequence.startSeen && sequence.startS <= atS

function droveIn(facts: Facts, sequence: Sequence): boolean {
  return movement(facts, sequence.startS, sequence.endS) !== null
}

/**
 * Contactors that close for the charger are no start: a charger is seen and nobody presses the brake or moves the
 * selector; or, where no plug is logged, current flows into the pack with the car at rest.
 */
function isCharging(facts: Facts, attempt: Omit<Attempt, 'number'>): boolean {
  const { plug, ready } = facts.once(startSignals)
  const { startS, endS } = attempt
  if (!attempt.sequence || droveIn(facts, attempt.sequence)) return false
  if (firstWhere(ready, startS, endS - 1e-9, (value) => value === 1)) return false
  const seen = chargerSeen(facts, startS, endS)
  if (seen && driverAsked(facts, startS, endS) === null) return true
  if (plug && !seen) return false
  return median(samplesIn(facts.drive.channels.get('pack_current'), startS, endS).values) < -1
}
