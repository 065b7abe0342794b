import { cellLimits } from '../../car/cell-limits.ts'
import { pilotState } from '../../car/charge-pilot.ts'
import { contactorsByWord } from '../../car/unit-state.ts'
import type { Facts } from '../../facts/facts.ts'
import { family } from '../../facts/facts.ts'
import { ASKS_A, type ChargeSpan } from './charge-judges.ts'
import { reportedFaults } from './reported-faults.ts'
import { firstMain } from './start-sequences.ts'
import {
  contactorTrack,
  firstWhere,
  samplesIn,
  startSignals,
  stretches,
  switchTrack,
  trackOf,
} from './start-signals.ts'

/** A charger and a battery unit may take this long to agree and close, s. Common practice, no source. */
export const PATIENCE_S = 30
/** A full car takes nothing, %; its highest cell stands this near its limit, V. Common practice, no source. */
const FULL_PERCENT = 97
const FULL_V = 0.03

/**
 * Did this car ask for a charge for over half a minute in all? It asks by charging enabled, a current request, the pilot
 * pulled to 6 V, contactors closed or precharging, a battery unit that says that it charges, or one in fault. A plug, its
 * lock and a station's offer ask for nothing: a car that waits for its timer shows all three.
 * `cannot-tell` where none of these is logged: waiting and failing look alike then.
 */
export function chargeAsked(facts: Facts, span: ChargeSpan): 'asked' | 'waits' | 'cannot-tell' {
  const { bms, key, precharge: closing } = facts.once(startSignals)
  const { drive } = facts
  const asks = (id: 'charge_current_request' | 'pilot_voltage', does: (value: number) => boolean) =>
    trackOf(drive.channels.get(id), (value) => (does(value) ? 1 : 0))
  const enable = switchTrack(facts, 'charge_enable')
  const request = asks('charge_current_request', (ampere) => Math.abs(ampere) > ASKS_A)
  const pilot = asks('pilot_voltage', (volt) => pilotState(volt) === 'asks')
  // with the key on they may be closed for anything
  const keyed = firstWhere(key, span.startS, span.endS, (value) => value === 1) !== null
  const precharge = keyed ? null : closing
  const late = keyed ? null : contactorTrack(facts, firstMain(facts) === 'negative' ? 'positive' : 'negative')
  const own = switchTrack(facts, 'contactor_charge')
  const longest = [enable, request, pilot, precharge, late, own]
    .flatMap((track) => stretches(track, (value) => value === 1, drive.durationS))
    .concat(
      bms
        ? stretches(bms.track, (code) => contactorsByWord(bms.word(code)) === 'closed', drive.durationS)
        : [],
      facts.once(reportedFaults).flatMap(({ unit, spans }) => (unit === 'bms' ? spans : [])),
    )
    .map(({ startS, endS }) => Math.min(endS, span.endS) - Math.max(startS, span.startS))
    .reduce((most, lasts) => Math.max(most, lasts), 0)
  if (longest > PATIENCE_S) return 'asked'
  // a precharge that failed is over in seconds; that it was tried is asking
  if (longest > 0 && stretches(precharge, (value) => value === 1, drive.durationS).some(inside(span)))
    return span.endS - span.startS > PATIENCE_S ? 'asked' : 'waits'
  const words = bms?.track.changes.some(({ value }) => bms.meaning(value) !== null) === true
  return enable || request || pilot || words ? 'waits' : 'cannot-tell'
}

const inside =
  ({ startS, endS }: ChargeSpan) =>
  (held: { startS: number }) =>
    held.startS > startS && held.startS < endS

/** Nothing is to be had of a full car: by its state of charge, or by its highest cell. */
export function isFull(facts: Facts, { startS, endS }: ChargeSpan): boolean {
  const { values } = samplesIn(facts.drive.channels.get('soc'), startS, endS)
  if (values.length > 0 && values.at(-1)! >= FULL_PERCENT) return true
  const { maxV } = cellLimits(facts)
  const highest = [
    facts.drive.channels.get('highest_cell_voltage'),
    ...family(facts, 'cell_voltage').map(({ channel }) => channel),
  ].map((channel) => samplesIn(channel, startS, endS).values.at(-1) ?? 0)
  return Math.max(0, ...highest) >= maxV - FULL_V
}
