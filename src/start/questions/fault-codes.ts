import type { TimelineEvent } from '../../../shared/drive.ts'
import type { Answer } from '../../facts/answer.ts'
import type { Facts } from '../../facts/facts.ts'
import { bitsOf, startSignals, stateTrack, trackOf } from '../models/start-signals.ts'

/**
 * What states and fault bits did the bus show?
 *
 * Model: changes only, each at the sample that shows it; bits and codes are named by `fault_bits` and `states` of the
 *   vehicle file, text by itself. What has no name is shown by its number.
 * Reads: bms_state, inverter_state, bms_faults, inverter_faults; key, plug, loops and drive ready for their changes.
 * Gives: `timeline`, at most `MOST` entries a channel; the rest is counted.
 * Biased by: a state logged slower than it changes.
 * Blind: changes inside one row spacing.
 * Source: the vehicle file’s words; common practice, no source.
 */
export function faultCodes(facts: Facts): Answer {
  const events: TimelineEvent[] = []
  for (const unit of ['bms', 'inverter'] as const) {
    events.push(...stateEvents(facts, unit), ...faultEvents(facts, unit))
  }
  events.push(...switchEvents(facts))
  return { questions: [], findings: [], sections: { timeline: events.sort((a, b) => a.at_s - b.at_s) } }
}

const MOST = 60
const UNIT = { bms: 'Battery unit', inverter: 'Inverter' } as const

/** At most `MOST` events, the rest counted in one more. */
function capped(events: readonly TimelineEvent[], id: string): TimelineEvent[] {
  const shown = events.slice(0, MOST)
  const rest = events.length - shown.length
  if (rest > 0)
    shown.push({ at_s: events[MOST]!.at_s, what: `${id}: ${rest} more changes from here on`, channel: id })
  return shown
}

function stateEvents(facts: Facts, unit: 'bms' | 'inverter'): TimelineEvent[] {
  const state = stateTrack(facts, unit)
  if (!state) return []
  const id = `${unit}_state`
  return capped(
    state.track.changes.map((change) => ({
      at_s: change.atS,
      what: `${UNIT[unit]}: ${state.word(change.value) ?? `state ${change.value}`}`,
      channel: id,
    })),
    id,
  )
}

function faultEvents(facts: Facts, unit: 'bms' | 'inverter'): TimelineEvent[] {
  const id = `${unit}_faults` as const
  const channel = facts.drive.channels.get(id)
  const track = trackOf(channel)
  if (!channel || !track) return []
  const names = facts.vehicle.fault_bits?.[unit] ?? {}
  const events: TimelineEvent[] = []
  let before = 0
  for (const change of track.changes) {
    const label = channel.labels?.[change.value]
    if (label !== undefined) {
      events.push({
        at_s: change.atS,
        what: `${UNIT[unit]} fault text: ${names[label] ?? label}`,
        channel: id,
      })
      continue
    }
    for (const bit of bitsOf(change.value).filter((each) => !bitsOf(before).includes(each)))
      events.push({
        at_s: change.atS,
        what: `${UNIT[unit]} fault: ${names[bit] ?? `bit ${bit}`}`,
        channel: id,
      })
    for (const bit of bitsOf(before).filter((each) => !bitsOf(change.value).includes(each)))
      events.push({
        at_s: change.atS,
        what: `${UNIT[unit]} fault cleared: ${names[bit] ?? `bit ${bit}`}`,
        channel: id,
      })
    before = change.value
  }
  return capped(events, id)
}

const SWITCHES = [
  ['key', 'key_on', 'Key on', 'Key off'],
  ['plug', 'charge_plug', 'Charge plug in', 'Charge plug out'],
  ['interlock', 'interlock_closed', 'Interlock loop closed', 'Interlock loop open'],
  ['inertia', 'inertia_closed', 'Inertia switch closed', 'Inertia switch open'],
  ['negative', 'contactor_negative', 'Negative contactor closed', 'Negative contactor open'],
  ['precharge', 'contactor_precharge', 'Precharge contactor closed', 'Precharge contactor open'],
  ['positive', 'contactor_positive', 'Positive contactor closed', 'Positive contactor open'],
  ['ready', 'drive_ready', 'Drive ready', 'Drive ready off'],
] as const

function switchEvents(facts: Facts): TimelineEvent[] {
  const signals = facts.once(startSignals)
  return SWITCHES.flatMap(([name, id, on, off]) => {
    const track = signals[name]
    if (!track) return []
    return capped(
      track.changes
        .slice(1)
        .map((change) => ({ at_s: change.atS, what: change.value === 1 ? on : off, channel: track.id })),
      id,
    )
  })
}
