import type { ChannelId } from '../../../shared/channels.ts'
import type { Channel } from '../../../shared/drive.ts'
import type { Facts } from '../../facts/facts.ts'
import { voltages } from './precharge-voltages.ts'
import { type Change, faultWords, startSignals, type Track, trackOf } from './start-signals.ts'

/** Something that changed for the worse around the moment at which the chain fell. */
export interface FallEvent {
  /** Step of the chain. */
  readonly step: string
  readonly what: string
  readonly change: Change
}

/** What happens this long before and after a fall belongs to it, s. Common practice, no source. */
export const BEFORE_S = 2
export const AFTER_S = 1

/** Causes before their effects, where the log cannot tell which came first. */
const CAUSE_ORDER = [
  'supply',
  'key',
  'inertia',
  'interlock',
  'plug',
  'isolation',
  'battery',
  'inverter',
  'negative',
  'positive',
  'ready',
]
/** An inverter that is off has lost its high voltage as often as it has failed. */
const OFF = 'inverter’s state off'

const rank = (event: FallEvent): number => CAUSE_ORDER.indexOf(event.what === OFF ? 'positive' : event.step)

/**
 * What changed for the worse when the chain fell, what changed first in front: the earliest by the samples that
 * bracket each change; among those that the brackets leave open, causes before their effects. Null where nothing did.
 */
export function orderOfFall(
  facts: Facts,
  trigger: Change,
): { readonly events: readonly FallEvent[]; readonly undecided: readonly string[] } | null {
  const events = eventsAround(facts, trigger)
  if (events.length === 0) return null
  const firstAtS = Math.min(...events.map(({ change }) => change.atS))
  const early = events.filter(({ change }) => change.earliestS < firstAtS || change.atS === firstAtS)
  early.sort((a, b) => rank(a) - rank(b))
  const first = early[0]!
  const rest = events
    .filter((event) => event !== first)
    .sort((a, b) => a.change.atS - b.change.atS || rank(a) - rank(b))
  return { events: [first, ...rest], undecided: early.slice(1).map(({ step }) => step) }
}

/** The first change for the worse of every step around the fall. */
function eventsAround(facts: Facts, trigger: Change): FallEvent[] {
  const signals = facts.once(startSignals)
  const fromS = trigger.earliestS - BEFORE_S
  const toS = trigger.atS + AFTER_S
  const events: FallEvent[] = []
  const look = (
    step: string,
    what: string | ((value: number) => string),
    track: Track | null,
    bad: (value: number) => boolean,
  ): void => {
    const change = track?.changes.find((c, i) => i > 0 && c.atS > fromS && c.atS <= toS && bad(c.value))
    if (change && !events.some((event) => event.step === step && event.change.atS <= change.atS))
      events.push({ step, what: typeof what === 'string' ? what : what(change.value), change })
  }
  const under = (channel: Channel | undefined, limit: number): Track | null =>
    trackOf(channel, (v) => (v < limit ? 1 : 0))
  const low = facts.limits.lvVoltage.attention ?? 10.5
  look(
    'supply',
    `12 V system under ${low} V`,
    under(facts.drive.channels.get('lv_voltage'), low),
    (v) => v === 1,
  )
  look('key', 'key off', signals.key, (v) => v === 0)
  look('inertia', 'inertia switch open', signals.inertia, (v) => v === 0)
  look('interlock', 'interlock loop open', signals.interlock, (v) => v === 0)
  look('plug', 'charge plug signal in', signals.plug, (v) => v === 1)
  const word =
    (unit: 'bms' | 'inverter', whose: string) =>
    (value: number): string =>
      `${whose} fault word: ${faultWords(facts, unit, value).join(', ')}`
  const leakKohm = ((facts.vehicle.isolation_min_ohm_per_volt ?? 500) * facts.once(voltages).highestV) / 1000
  const isolation = facts.drive.channels.get('isolation_resistance')
  look('isolation', 'isolation under its limit', under(isolation, leakKohm), (v) => v === 1)
  const { bms, inverter } = signals
  if (bms) look('battery', 'battery unit’s state a fault', bms.track, (code) => bms.meaning(code) === 'fault')
  look('battery', word('bms', 'battery unit’s'), numeric(facts, 'bms_faults'), (v) => v > 0)
  if (inverter)
    look('inverter', 'inverter’s state a fault', inverter.track, (code) => inverter.meaning(code) === 'fault')
  look('inverter', word('inverter', 'inverter’s'), numeric(facts, 'inverter_faults'), (v) => v > 0)
  look('negative', 'negative contactor open', signals.negative, (v) => v === 0)
  look('positive', 'positive contactor open', signals.positive, (v) => v === 0)
  if (inverter) look('inverter', OFF, inverter.track, (code) => inverter.meaning(code) === 'off')
  look('ready', 'drive ready off', signals.ready, (v) => v === 0)
  return events
}

function numeric(facts: Facts, id: ChannelId): Track | null {
  const channel = facts.drive.channels.get(id)
  return channel && !channel.labels ? trackOf(channel) : null
}
