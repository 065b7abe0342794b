import type { Unit } from '../../car/unit-state.ts'
import type { Facts } from '../../facts/facts.ts'
import {
  bitsOf,
  type Held,
  type StartSignals,
  startSignals,
  stateTrack,
  stretches,
  type Track,
  trackOf,
} from './start-signals.ts'
import { wakingUp } from './waking.ts'

/** One thing that a control unit says is wrong, and when. */
export interface ReportedFault {
  readonly unit: Unit
  /** In the unit's own words, or "bit 3" where the vehicle file does not name it. */
  readonly words: string
  /** False where only a number is known. */
  readonly named: boolean
  /** A bare "fault" says less than a named bit. */
  readonly bare: boolean
  readonly channel: string
  readonly spans: readonly Held[]
}

/** Text of a fault channel that says that there is none. */
const NOTHING_WRONG = /^(|-|0|ok|okay|none|no|nil|normal|good|clear(ed)?|no[ -_](fault|error|alarm)s?)$/i
const BARE = /^(system |general |internal )?(fault|error|failure|failed|alarm)( state)?$/i

/**
 * Every state that means a fault, every fault bit and fault text, with the stretches in which it stood.
 *
 * Reads: bms_state, inverter_state, bms_faults, inverter_faults; `states` and `fault_bits` of the vehicle file.
 * Left out: what stands only in the first second after the unit wakes; a bit without a name that stands all through
 * the log (it may be a status).
 */
export function reportedFaults(facts: Facts): ReportedFault[] {
  return (['bms', 'inverter'] as const).flatMap((unit) => [...byState(facts, unit), ...byWord(facts, unit)])
}

const standing = (track: Track, wanted: (value: number) => boolean, endS: number): Held[] =>
  stretches(track, wanted, endS).filter((held) => !wakingUp(held))

function byState(facts: Facts, unit: Unit): ReportedFault[] {
  const state = stateTrack(facts, unit)
  if (!state) return []
  const codes = new Set(state.track.changes.map(({ value }) => value))
  return [...codes]
    .filter((code) => state.meaning(code) === 'fault')
    .map((code) => ({
      unit,
      words: state.word(code)!,
      named: true,
      bare: BARE.test(state.word(code)!.trim()),
      channel: `${unit}_state`,
      spans: standing(state.track, (value) => value === code, facts.drive.durationS),
    }))
    .filter(({ spans }) => spans.length > 0)
}

function byWord(facts: Facts, unit: Unit): ReportedFault[] {
  const id = `${unit}_faults` as const
  const channel = facts.drive.channels.get(id)
  const track = trackOf(channel)
  if (!channel || !track) return []
  const names = facts.vehicle.fault_bits?.[unit] ?? {}
  const endS = facts.drive.durationS
  if (channel.labels)
    return channel.labels.flatMap((label, code) => {
      const words = names[label] ?? label
      const spans = NOTHING_WRONG.test(label.trim()) ? [] : standing(track, (value) => value === code, endS)
      return spans.length === 0
        ? []
        : [{ unit, words, named: true, bare: BARE.test(words.trim()), channel: id, spans }]
    })
  const bits = new Set(track.changes.flatMap(({ value }) => bitsOf(value)))
  return [...bits]
    .sort((a, b) => a - b)
    .map((bit) => ({
      unit,
      words: names[bit] ?? `bit ${bit}`,
      named: names[bit] !== undefined,
      bare: BARE.test((names[bit] ?? '').trim()),
      channel: id,
      spans: standing(track, (value) => bitsOf(value).includes(bit), endS),
    }))
    .filter(({ spans, named }) => spans.length > 0 && (named || Number.isFinite(spans[0]!.from.earliestS)))
}

/** Does a control unit report a fault at this moment? */
export function inFault(facts: Facts, unit: Unit, atS: number): boolean {
  return facts
    .once(reportedFaults)
    .some((each) => each.unit === unit && each.spans.some(({ startS, endS }) => startS <= atS && atS <= endS))
}

const SEEN: readonly (readonly [keyof StartSignals & string, string, string])[] = [
  ['key', 'key on', 'key off'],
  ['plug', 'charge plug in', 'charge plug out'],
  ['interlock', 'interlock loop closed', 'interlock loop open'],
  ['inertia', 'inertia switch closed', 'inertia switch open'],
  ['precharge', 'precharge contactor closed', 'precharge contactor open'],
  ['negative', 'negative contactor closed', 'negative contactor open'],
  ['positive', 'positive contactor closed', 'positive contactor open'],
  ['ready', 'drive ready', 'drive ready off'],
]

/** What else of the start chain changed in (fromS, toS], in order: "interlock loop open at 12.30 s". */
export function changesIn(facts: Facts, fromS: number, toS: number, besides: Unit): string[] {
  const signals = facts.once(startSignals)
  const found: { atS: number; what: string }[] = []
  for (const [name, on, off] of SEEN)
    for (const change of (signals[name] as Track | null)?.changes.slice(1) ?? [])
      if (change.atS > fromS && change.atS <= toS)
        found.push({ atS: change.atS, what: change.value === 1 ? on : off })
  const other = besides === 'bms' ? signals.inverter : signals.bms
  for (const change of other?.track.changes.slice(1) ?? []) {
    const word = other!.word(change.value)
    if (word !== null && change.atS > fromS && change.atS <= toS)
      found.push({ atS: change.atS, what: `${besides === 'bms' ? 'inverter' : 'battery unit'} “${word}”` })
  }
  return found
    .sort((a, b) => a.atS - b.atS)
    .slice(0, MOST)
    .map(({ atS, what }) => `${what} at ${atS.toFixed(2)} s`)
}

/** More changes than this at once are the whole chain falling. */
const MOST = 5
