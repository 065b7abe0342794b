import type { ChannelId } from '../../../shared/channels.ts'
import type { Span } from '../../../shared/units.ts'
import { pilotState } from '../../car/charge-pilot.ts'
import { LIVE_V } from '../../drive/live-volts.ts'
import type { Facts } from '../../facts/facts.ts'
import { overlap } from '../../math/spans.ts'
import { startSignals, stretches, switchTrack, type Track, trackOf } from './start-signals.ts'

/** More than a sensor's zero, A. Common practice, no source. */
const FLOWS_A = 1

/**
 * When something showed that a charge was going on: mains at the charger, its current, a request for it, the pilot pulled
 * to 6 V, charging enabled, a battery unit that says that it charges. Not merged, not ordered.
 */
export function chargingShown(facts: Facts): Span[] {
  const { drive } = facts
  const { bms } = facts.once(startSignals)
  const over = (id: ChannelId, bar: number): Track | null =>
    trackOf(drive.channels.get(id), (value) => (Math.abs(value) > bar ? 1 : 0))
  const pilot = trackOf(drive.channels.get('pilot_voltage'), (volt) => (pilotState(volt) === 'asks' ? 1 : 0))
  const held = [
    over('mains_voltage', LIVE_V),
    over('charger_current', FLOWS_A),
    over('charge_current_request', FLOWS_A),
    pilot,
    switchTrack(facts, 'charge_enable'),
    switchTrack(facts, 'contactor_charge'),
  ].flatMap((track) => stretches(track, (value) => value === 1, drive.durationS))
  const told = bms ? stretches(bms.track, (code) => bms.meaning(code) === 'charging', drive.durationS) : []
  return [...held, ...told].map(({ startS, endS }): Span => [startS, endS])
}

/**
 * When the charger was connected: the plug's whole time in which a charge shows, else that time itself. A plug alone
 * brings nothing, and one whose signal stays on in a drive tells nothing.
 */
export function chargerConnected(facts: Facts): Span[] {
  const { segments, durationS } = facts.drive
  const of = (type: string): Span[] =>
    segments.filter((each) => each.type === type).map((each) => each.span_s)
  const driving = of('driving')
  const shown = [...chargingShown(facts), ...of('charging')].filter(
    (span) => overlap([span], driving).length === 0,
  )
  const plugged = stretches(facts.once(startSignals).plug, (value) => value === 1, durationS)
    .map(({ startS, endS }): Span => [startS, endS])
    .filter((span) => overlap([span], driving).length === 0 && overlap([span], [...shown]).length > 0)
  return [...plugged, ...shown]
}
