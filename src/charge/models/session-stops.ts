import type { ChannelId } from '../../../shared/channels.ts'
import { cellLimits } from '../../car/cell-limits.ts'
import { offerOf, type PilotState, pilotState } from '../../car/charge-pilot.ts'
import { meaningOfWord, stateWords } from '../../car/unit-state.ts'
import type { Facts } from '../../facts/facts.ts'
import { heldAt, samplePeriod } from '../../samples/on-one-clock.ts'
import type { SessionSeries } from './session-series.ts'
import { FLOWS_A } from './session-spans.ts'

/** What can change when a charge stops, in the order in which one leads to the next where the log cannot tell. */
export type StopCause =
  | 'request'
  | 'enable'
  | 'lock'
  | 'plug'
  | 'car-let-go'
  | 'interlock'
  | 'mains'
  | 'station'
  | 'fault'
  | 'contactor'
  | 'charger'
  | 'unknown'

/** The battery unit, the car's own timer or the driver end a charge by these; the rest breaks it off. */
const ORDINARY: readonly StopCause[] = ['request', 'enable', 'lock', 'plug', 'car-let-go', 'unknown']

export interface Change {
  readonly cause: StopCause
  readonly channel: ChannelId
  readonly atS: number
  /** Not before this: the sample before still showed the old state. */
  readonly earliestS: number
}

export interface Stop {
  readonly fromS: number
  /** When current flowed again; null where it did not. */
  readonly againS: number | null
  readonly lastsS: number
  readonly before_a: number
  readonly first: Change
  readonly all: readonly Change[]
  /** Ordinary and other changes came in one sample: which was first cannot be told. */
  readonly tied: boolean
  readonly kind: 'broke-off' | 'paused' | 'ended'
  readonly plusMinusS: number
}

/** Current that flowed so long, and was gone so long, makes a stop, s. Common practice, no source. */
const FLOWED_S = 20
const GONE_S = 5
/** A change so long before the current was gone may have led to it, s. Common practice, no source. */
const BEFORE_S = 15
/** A full pack: its highest cell stands this near its limit, V; or so full, %. Common practice, no source. */
const FULL_V = 0.03
const FULL_PERCENT = 97
/** Who unplugs so soon after the station stopped has stopped it himself, s. Common practice, no source. */
const UNPLUGGED_S = 300

/**
 * Where current flowed and was gone, with what changed first.
 *
 * A stop that lasts to the end of the plug's time is `ended` where what changed first is how charges end (the battery
 * unit's request, charging no longer enabled, the plug let go), or the pack is full; `paused` where such a stop came
 * to an end by itself; anything else `broke-off`.
 */
export function sessionStops(facts: Facts, series: SessionSeries): Stop[] {
  const { timeS, delivered, stepS } = series
  const endS = pluggedUntil(facts, series.span[1])
  const stops: Stop[] = []
  let flowedS = 0
  let lastFlow = -1
  for (let i = 0; i < timeS.length; i++) {
    if (!Number.isFinite(delivered[i]!)) continue
    if (delivered[i]! >= FLOWS_A) {
      flowedS += stepS
      lastFlow = i
      continue
    }
    if (flowedS < FLOWED_S || lastFlow < 0) continue
    let again = i
    while (again < timeS.length && !(delivered[again]! >= FLOWS_A)) again++
    const againS = again < timeS.length ? timeS[again]! : null
    const fromS = timeS[i]!
    if ((againS ?? endS) - fromS >= GONE_S || againS === null)
      stops.push(stopAt(facts, series, { fromS, againS, endS, lastFlow }))
    flowedS = 0
    i = again - 1
  }
  // current that stood to the session's last sample stopped with it, where the log goes on
  if (flowedS >= FLOWED_S && lastFlow >= 0 && endS - timeS[lastFlow]! > GONE_S + 3 * stepS)
    stops.push(stopAt(facts, series, { fromS: timeS[lastFlow]! + stepS, againS: null, endS, lastFlow }))
  return stops
}

function stopAt(
  facts: Facts,
  series: SessionSeries,
  at: { fromS: number; againS: number | null; endS: number; lastFlow: number },
): Stop {
  const { fromS, againS, endS, lastFlow } = at
  const all = changesIn(facts, fromS - Math.max(BEFORE_S, 3 * series.stepS), fromS + 2 * series.stepS)
  const [cause, tied] = firstOf(all, {
    again: againS !== null,
    pilot: pilotAt(facts, fromS + 2 * series.stepS),
  }) ?? [
    {
      cause: stillAsked(facts, fromS + 2 * series.stepS) ? 'charger' : 'unknown',
      channel: series.deliveredFrom,
      atS: fromS,
      earliestS: fromS - series.stepS,
    },
    false,
  ]
  const full = isFull(facts, series, lastFlow)
  const unplugged = againS === null && endS - fromS < UNPLUGGED_S && endS < facts.drive.durationS - 1
  const usual = ORDINARY.includes(cause.cause)
  const kind =
    full || (unplugged && (usual || cause.cause === 'station'))
      ? 'ended'
      : usual
        ? againS === null
          ? 'ended'
          : 'paused'
        : 'broke-off'
  return {
    fromS,
    againS,
    lastsS: (againS ?? endS) - fromS,
    before_a: series.delivered[lastFlow]!,
    first: cause,
    all,
    tied,
    kind,
    plusMinusS: 2 * series.stepS,
  }
}

/** The pilot's state at a moment; null where it is not logged. */
function pilotAt(
  { drive: { channels } }: { drive: Pick<Facts['drive'], 'channels'> },
  atS: number,
): PilotState | null {
  const pilot = channels.get('pilot_voltage')
  const volt = pilot ? heldAt(pilot, [atS])[0]! : Number.NaN
  return Number.isFinite(volt) ? pilotState(volt) : null
}

/** Is the charger still asked for current: by the request, the release, or the pilot at 6 V? Without them nobody knows. */
function stillAsked({ drive: { channels } }: Facts, atS: number): boolean {
  const at = (id: ChannelId): number => {
    const channel = channels.get(id)
    return channel ? heldAt(channel, [atS])[0]! : Number.NaN
  }
  return (
    Math.abs(at('charge_current_request')) > 0.5 ||
    (channels.get('charge_enable')?.polarity === 'as-named' && at('charge_enable') === 1) ||
    pilotAt({ drive: { channels } }, atS) === 'asks'
  )
}

/** What no charge ends by: of one sample these lead, in this order. */
const LEADS: readonly StopCause[] = ['interlock', 'fault', 'station', 'mains', 'contactor']

/**
 * What changed first. What lies within one sample of the earliest cannot be ordered: an open loop, a fault, a station
 * or mains that went away then lead the request that falls with them. Mains that go as the car lets the station go (or,
 * without a pilot in the log, as the request falls for good) follow from it, and contactors that open with the request as
 * a charge ends follow from that.
 */
function firstOf(
  all: readonly Change[],
  { again, pilot }: { again: boolean; pilot: PilotState | null },
): readonly [Change, boolean] | null {
  const [earliest] = all
  if (!earliest) return null
  const same = all.filter(({ earliestS }) => earliestS < earliest.atS)
  const letGo = same.some(({ cause }) => cause === 'car-let-go')
  const requested = same.some(({ cause }) => ORDINARY.includes(cause))
  const leads = LEADS.filter(
    (cause) =>
      !(cause === 'mains' && (letGo || (requested && !again && pilot === null))) &&
      !(cause === 'contactor' && requested && !again),
  )
  const first = leads.flatMap((cause) => same.filter((each) => each.cause === cause))[0] ?? earliest
  return [first, same.some((each) => each.cause !== first.cause)]
}

function isFull(facts: Facts, { highest, soc, stepS }: SessionSeries, at: number): boolean {
  if (soc[at]! >= FULL_PERCENT) return true
  // the cells sink as the current goes: the last few samples count
  const from = Math.max(0, at - Math.ceil(30 / stepS))
  const top = highest.subarray(from, at + 1).reduce((most, volt) => Math.max(most, volt || 0), 0)
  return top >= cellLimits(facts).maxV - FULL_V
}

/** Until when the plug stays in after a session, s. */
function pluggedUntil(facts: Facts, fromS: number): number {
  const plug = facts.drive.channels.get('charge_plug')
  if (!plug || plug.polarity === null) return fromS
  const out = plug.values.findIndex((value, i) => value === 0 && plug.timeS[i]! >= fromS)
  return out < 0 ? facts.drive.durationS : plug.timeS[out]!
}

interface Watched {
  readonly channel: ChannelId
  readonly cause: StopCause
  readonly on: (value: number) => boolean
  /** What it must have come to for the change to count; default: no longer on. */
  readonly to?: (value: number) => boolean
}

const isOn = (value: number): boolean => value > 0.5

const WATCHED: readonly Watched[] = [
  { channel: 'charge_current_request', cause: 'request', on: (a) => Math.abs(a) > 0.5 },
  { channel: 'charge_enable', cause: 'enable', on: isOn },
  { channel: 'charge_lock', cause: 'lock', on: isOn },
  { channel: 'charge_plug', cause: 'plug', on: isOn },
  { channel: 'interlock_closed', cause: 'interlock', on: isOn },
  { channel: 'mains_voltage', cause: 'mains', on: (volt) => volt > 50 },
  {
    channel: 'pilot_voltage',
    cause: 'car-let-go',
    on: (volt) => pilotState(volt) === 'asks',
    to: (volt) => pilotState(volt) === 'connected',
  },
  {
    channel: 'pilot_voltage',
    cause: 'station',
    on: (volt) => ['asks', 'connected'].includes(pilotState(volt)),
    to: (volt) => pilotState(volt) === 'none',
  },
  { channel: 'pilot_duty', cause: 'station', on: (percent) => offerOf(percent).says !== 'none' },
  { channel: 'contactor_charge', cause: 'contactor', on: isOn },
  { channel: 'contactor_positive', cause: 'contactor', on: isOn },
  { channel: 'contactor_negative', cause: 'contactor', on: isOn },
]

/** What changed for the worse in (fromS, toS], earliest first; of one moment in the order of `WATCHED`. */
function changesIn(facts: Facts, fromS: number, toS: number): Change[] {
  const found: Change[] = []
  for (const { channel: id, cause, on, to } of WATCHED) {
    const channel = facts.drive.channels.get(id)
    if (!channel || (channel.polarity === null && on === isOn)) continue
    const { timeS, values } = channel
    const at = values.findIndex(
      (value, i) =>
        i > 0 &&
        timeS[i]! > fromS &&
        timeS[i]! <= toS &&
        on(values[i - 1]!) &&
        (to ?? ((v) => !on(v)))(value),
    )
    if (at < 0) continue
    const period = samplePeriod(timeS)
    // written on change only: the moment is the stamp's own
    found.push({
      cause,
      channel: id,
      atS: timeS[at]!,
      earliestS: Math.max(timeS[at - 1]!, timeS[at]! - Math.max(period, 1)),
    })
  }
  const fault = faultIn(facts, fromS, toS)
  if (fault) found.push(fault)
  return found.sort((a, b) => a.atS - b.atS)
}

function faultIn(facts: Facts, fromS: number, toS: number): Change | null {
  const state = facts.drive.channels.get('bms_state')
  const word = state && stateWords(state, facts.vehicle, 'bms')
  const faulty = (value: number): boolean =>
    word !== undefined && meaningOfWord(word(value), 'bms') === 'fault'
  const begins = (channel: typeof state, wrong: (value: number) => boolean): Change | null => {
    if (!channel) return null
    const { timeS, values } = channel
    const at = values.findIndex(
      (value, i) => i > 0 && timeS[i]! > fromS && timeS[i]! <= toS && wrong(value) && !wrong(values[i - 1]!),
    )
    return at < 0
      ? null
      : { cause: 'fault', channel: channel.id as ChannelId, atS: timeS[at]!, earliestS: timeS[at - 1]! }
  }
  const bits = facts.drive.channels.get('bms_faults')
  return begins(state, faulty) ?? (bits?.labels ? null : begins(bits, (value) => value > 0))
}
