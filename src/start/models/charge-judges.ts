import type { ChannelId } from '../../../shared/channels.ts'
import type { Channel } from '../../../shared/drive.ts'
import { cableAmperes, OPEN_OHM, offerOf, pilotState, SHORTED_OHM } from '../../car/charge-pilot.ts'
import { absence, type Facts } from '../../facts/facts.ts'
import { inFault } from './reported-faults.ts'
import { firstMain } from './start-sequences.ts'
import {
  contactorTrack,
  firstWhere,
  medianOf,
  samplesIn,
  startSignals,
  switchTrack,
  type Track,
  valueAt,
} from './start-signals.ts'
import { no, notLogged, unseen, type Verdict, yes } from './start-verdict.ts'

/** A charge's span; what its steps are read in. */
export interface ChargeSpan {
  readonly startS: number
  readonly endS: number
}

type Judge = (facts: Facts, span: ChargeSpan) => Verdict

/** More than this is a charge, A: less may be a sensor's zero. Common practice, no source. */
export const FLOWS_A = 1
/** Mains are there from here on, V. Common practice, no source. */
const MAINS_V = 50
/** A request over this asks for something, A. Common practice, no source. */
export const ASKS_A = 0.5
/** A precharge may last no longer than this, s. Common practice, no source. */
const PRECHARGE_S = 1
/** Link against pack at which a precharge has come through, where the vehicle file does not say, %. Common practice. */
const READY_PERCENT = 90

/** What the log says of each step of the charge chain in one charge. */
export const CHARGE_JUDGES: Readonly<Record<string, Judge>> = {
  plug: (facts, { startS }) => {
    const { plug } = facts.once(startSignals)
    if (!plug) return unseen(notLogged(facts, ['charge_plug']))
    return valueAt(plug, startS) === 1
      ? yes(
          firstWhere(plug, startS, startS, (value) => value === 1),
          'the charge plug signal says in',
        )
      : no(startS, 'the charge plug signal says out', { throughout: true })
  },
  proximity,
  'drive-inhibit': (facts, { startS, endS }) => {
    const { ready } = facts.once(startSignals)
    if (!ready) return unseen(notLogged(facts, ['drive_ready']))
    const off = firstWhere(ready, startS, endS, (value) => value === 0)
    return off
      ? yes(null, 'drive ready is off')
      : no(startS, 'drive ready stays on with the plug in', { throughout: true })
  },
  pilot: (facts, { startS, endS }) =>
    level(facts, 'pilot_voltage', startS, endS, (volt) => ['connected', 'asks'].includes(pilotState(volt)), {
      held: (atS, volt) => `the pilot stands at ${volt.toFixed(1)} V from ${atS.toFixed(2)} s`,
      failed: (volt) =>
        pilotState(volt) === 'not-connected'
          ? `the pilot stays at ${volt.toFixed(1)} V: the station is there and does not see the car`
          : `the pilot stays at ${volt.toFixed(1)} V: the station gives no pilot, or its wire is open`,
    }),
  duty: (facts, { startS, endS }) =>
    level(facts, 'pilot_duty', startS, endS, (percent) => offerOf(percent).says !== 'none', {
      held: (atS, percent) => {
        const offer = offerOf(percent)
        return offer.says === 'amperes'
          ? `the pilot offers ${offer.amperes.toFixed(0)} A (${percent.toFixed(0)} %) from ${atS.toFixed(2)} s`
          : `the pilot says from ${atS.toFixed(2)} s that car and station agree by messages (${percent.toFixed(0)} %)`
      },
      failed: (percent) => `the pilot never offers current (${percent.toFixed(0)} %)`,
    }),
  lock: (facts, span) => switched(facts, 'charge_lock', span, 'locked'),
  battery,
  interlock,
  precharge,
  contactors,
  request: (facts, { startS, endS }) =>
    level(facts, 'charge_current_request', startS, endS, (ampere) => Math.abs(ampere) > ASKS_A, {
      held: (atS, ampere) => `it asks for ${Math.abs(ampere).toFixed(0)} A from ${atS.toFixed(2)} s`,
      failed: () => 'the battery unit never asks for current',
    }),
  state: (facts, { startS, endS }) =>
    level(facts, 'pilot_voltage', startS, endS, (volt) => pilotState(volt) === 'asks', {
      held: (atS, volt) => `the pilot is pulled down to ${volt.toFixed(1)} V from ${atS.toFixed(2)} s`,
      failed: (volt) => `the pilot stays at ${volt.toFixed(1)} V: the car never asks the station to close`,
    }),
  mains: (facts, { startS, endS }) =>
    level(facts, 'mains_voltage', startS, endS, (volt) => volt > MAINS_V, {
      held: (atS, volt) => `${volt.toFixed(0)} V at the charger from ${atS.toFixed(2)} s`,
      failed: (volt) => `no mains came to the charger (${volt.toFixed(0)} V)`,
    }),
  current,
}

/** An analogue step: held from the first of two samples that are there, failed where samples came and none was. */
function level(
  facts: Facts,
  id: ChannelId,
  fromS: number,
  toS: number,
  there: (value: number) => boolean,
  words: { held: (atS: number, value: number) => string; failed: (median: number) => string },
): Verdict {
  const { timeS, values } = samplesIn(facts.drive.channels.get(id), fromS, toS)
  if (values.length === 0) return unseen(`${absence(facts, [id])} (${id})`)
  const at = values.findIndex((value, i) => there(value) && there(values[i + 1] ?? value))
  if (at < 0)
    return no(fromS, words.failed(medianOf(facts.drive.channels.get(id), fromS, toS)), { throughout: true })
  const atS = timeS[at]!
  return yes({ atS, earliestS: timeS[at - 1] ?? atS, value: 1 }, words.held(atS, values[at]!))
}

function switched(facts: Facts, id: ChannelId, { startS, endS }: ChargeSpan, word: string): Verdict {
  const track = switchTrack(facts, id)
  if (!track) return unseen(notLogged(facts, [id]))
  const seen = firstWhere(track, startS, endS, (value) => value === 1)
  return seen
    ? yes(seen, `${word} at ${seen.atS.toFixed(2)} s`)
    : no(startS, `never ${word}`, { throughout: true })
}

/** A channel that never moves says nothing. */
function proximity(facts: Facts, { startS, endS }: ChargeSpan): Verdict {
  const channel = facts.drive.channels.get('proximity_resistance')
  const { values } = samplesIn(channel, startS, endS)
  if (values.length === 0) return unseen(`${absence(facts, ['proximity_resistance'])} (proximity_resistance)`)
  const ohm = medianOf(channel, startS, endS)
  if (ohm > SHORTED_OHM && ohm < OPEN_OHM) {
    const rated = cableAmperes(ohm)
    return yes(
      null,
      Number.isFinite(rated)
        ? `${ohm.toFixed(0)} Ω: a cable for ${rated.toFixed(0)} A`
        : `${ohm.toFixed(0)} Ω: a cable is seen, its rating is not in the list`,
    )
  }
  if (neverMoves(channel!)) return unseen(`it reads ${ohm.toFixed(0)} Ω all through the log`)
  return no(
    startS,
    ohm >= OPEN_OHM
      ? `it reads ${ohm.toFixed(0)} Ω: no cable is recognised though the plug is in`
      : `it reads ${ohm.toFixed(0)} Ω: the proximity wire is shorted`,
    { throughout: true },
  )
}

/** The very same number all through the log, open or shorted: nothing measures it, or nothing was ever plugged in. */
const neverMoves = ({ values }: Channel): boolean => values.every((value) => value === values[0])

function interlock(facts: Facts, { startS, endS }: ChargeSpan): Verdict {
  const { interlock: track } = facts.once(startSignals)
  if (!track) return unseen(notLogged(facts, ['interlock_closed']))
  const last = valueAt(track, endS)
  const from = firstWhere(track, startS, endS, (value) => value === last)
  return last === 1
    ? yes(from, 'the interlock loop is closed')
    : no(Math.max(startS, from?.atS ?? startS), 'the interlock loop is open', {
        throughout: from !== null && from.atS <= startS,
      })
}

/** Awake: its state left “off”. Content: it reports no fault at the end that an open loop or a failed precharge explains. */
function battery(facts: Facts, span: ChargeSpan): Verdict {
  const { startS, endS } = span
  const { bms } = facts.once(startSignals)
  if (!bms && !facts.drive.channels.has('bms_faults'))
    return unseen(`${absence(facts, ['bms_state', 'bms_faults'])} (bms_state, bms_faults)`)
  if (inFault(facts, 'bms', endS)) {
    const explained =
      interlock(facts, span).held === false ||
      (precharge(facts, span).held === false && prechargeTried(facts, span))
    return explained
      ? yes(null, 'it is awake and reports a fault, which a later step explains')
      : no(startS, 'the battery unit reports a fault')
  }
  const asleep = (code: number): boolean => bms?.meaning(code) === 'off'
  const awake = bms ? firstWhere(bms.track, startS, endS, (code) => !asleep(code)) : null
  if (bms && !awake)
    return no(startS, `the battery unit stays “${bms.word(valueAt(bms.track, endS))}”`, { throughout: true })
  return yes(awake, 'neither its state nor its fault bits speak against it at the end')
}

const prechargeTried = (facts: Facts, { startS, endS }: ChargeSpan): boolean =>
  firstWhere(facts.once(startSignals).precharge, startS, endS, (value) => value === 1) !== null

/** Judged only where the car precharges for a charge: the contact closed, or the mains wait for it. */
function precharge(facts: Facts, span: ChargeSpan): Verdict {
  const { startS, endS } = span
  const { precharge: track } = facts.once(startSignals)
  if (!track) return unseen(notLogged(facts, ['contactor_precharge']))
  const closed = firstWhere(track, startS, endS, (value) => value === 1)
  const done = contactors(facts, span).held === true
  if (done)
    return closed ? yes(closed, 'came through') : unseen('this charge closed its contactors without it')
  if (!closed && track.periodS > PRECHARGE_S)
    return unseen(`its rows are ${track.periodS.toFixed(0)} s apart, longer than a precharge may last`)
  if (!closed)
    return switchTrack(facts, 'contactor_charge')
      ? unseen('the car has a charge contactor of its own')
      : no(startS, 'the precharge contactor never closed', { throughout: true })
  const link = samplesIn(facts.drive.channels.get('link_voltage'), startS, endS).values
  const pack = medianOf(facts.drive.channels.get('pack_voltage'), startS, endS)
  if (link.length === 0 || !Number.isFinite(pack)) return yes(closed, 'the precharge contactor closed')
  const most = link.reduce((high, value) => Math.max(high, value), 0)
  const share = (100 * most) / pack
  const ready = facts.vehicle.precharge?.ready_percent ?? READY_PERCENT
  return share < ready - 1
    ? no(closed.atS, `the link came up to ${share.toFixed(0)} % of the pack and no further`)
    : yes(closed, `the link came up to ${share.toFixed(0)} % of the pack`)
}

/** The charger's own contactor where there is one, else the mains, else what the battery unit says. */
function contactors(facts: Facts, { startS, endS }: ChargeSpan): Verdict {
  const signals = facts.once(startSignals)
  const late = contactorTrack(facts, firstMain(facts) === 'negative' ? 'positive' : 'negative')
  const track: Track | null = switchTrack(facts, 'contactor_charge') ?? late
  const closed = firstWhere(track, startS, endS, (value) => value === 1)
  const byUnit = signals.bms
    ? firstWhere(signals.bms.track, startS, endS, (code) =>
        ['charging', 'closed', 'drive'].includes(signals.bms!.meaning(code) ?? ''),
      )
    : null
  const seen = closed ?? (track ? null : byUnit)
  return seen
    ? yes(seen, `closed at ${seen.atS.toFixed(2)} s`)
    : track
      ? no(startS, `${track.id} never closed`, { throughout: true })
      : unseen(
          `${absence(facts, ['contactor_charge', 'contactor_positive'])} (contactor_charge, contactor_positive)`,
        )
}

function current(facts: Facts, { startS, endS }: ChargeSpan): Verdict {
  const into = (id: ChannelId, flows: (amperes: number) => boolean) => {
    const { timeS, values } = samplesIn(facts.drive.channels.get(id), startS, endS)
    const at = values.findIndex((a, i) => flows(a) && flows(values[i + 1] ?? Number.NaN))
    return { seen: values.length > 1, atS: timeS[at] }
  }
  const charger = into('charger_current', (a) => Math.abs(a) > FLOWS_A)
  const pack = into('pack_current', (a) => a < -FLOWS_A)
  const atS = charger.atS ?? pack.atS
  if (atS !== undefined)
    return yes({ atS, earliestS: atS, value: 1 }, `current flows into the pack from ${atS.toFixed(2)} s`)
  return charger.seen || pack.seen
    ? no(startS, `no current over ${FLOWS_A} A came`, { throughout: true })
    : unseen(`${absence(facts, ['charger_current', 'pack_current'])} (charger_current, pack_current)`)
}
