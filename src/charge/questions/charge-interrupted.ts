import type { Finding } from '../../../shared/review.ts'
import { clockText, lengthText } from '../../../shared/wording.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { DC_LINK, OUTSIDE_BOX } from '../../facts/cautions.ts'
import { type Facts, logged, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import type { Stop, StopCause } from '../models/session-stops.ts'
import { type Session, STOP_WORDS, sessions } from '../models/sessions.ts'

const QUESTION = 'Did a charge break off, and what changed first?'

/**
 * Did a charge break off before it was done?
 *
 * Model: current that flowed for 20 s and was under 1 A for 5 s is a stop (`models/session-stops.ts`). What changed first
 *   in the 15 s before tells who ended it; the battery unit's request, charging no longer enabled, and the plug let go are
 *   how charges end, and so is a full pack; anything else broke it off.
 * Reads: charger_current or pack_current, charge_current_request [A], mains_voltage, pilot_voltage [V], pilot_duty [%],
 *   charge_enable, charge_lock, charge_plug, contactors, interlock_closed [0/1], bms_state, bms_faults, soc, cells.
 * Gives: `charge-interrupted` [s it lasted], the longest where there are several.
 * Biased by: a log slower than the order of events: of what changed within one sample the open loop,
 *   the fault, the station or the mains is taken as first.
 * Blind: a charge that a timer, a station's release or the driver ended by what is not logged.
 * Source: common practice, no source.
 */
export function chargeInterrupted(facts: Facts): Answer {
  const all = facts.once(sessions)
  if (all.length === 0)
    return {
      questions: [
        notAssessed(
          'start',
          QUESTION,
          unlogged(facts, ['charger_current', 'charge_plug']),
          'no charge with current is in this log',
          'Log a charge with charger current, plug, pilot, mains voltage and contactors at 1 Hz or faster.',
          's',
        ),
      ],
      findings: [],
    }
  const stops = all.flatMap((session) => session.stops.map((stop) => ({ session, stop })))
  const broke = stops.filter(({ stop }) => stop.kind === 'broke-off')
  const paused = stops.filter(({ stop }) => stop.kind === 'paused')
  const worst = longest(broke) ?? longest(paused)
  const ended = stops.filter(({ stop }) => stop.kind === 'ended').at(-1)?.stop
  const why = `${all.length} ${all.length === 1 ? 'charge' : 'charges'} with current${
    ended ? `; the last one ended as charges do, first: ${STOP_WORDS[ended.first.cause]}` : ''
  }`
  const step = Math.max(...all.map(({ series }) => series.stepS))
  return {
    questions: [
      assessed('start', QUESTION, worst !== null, why, {
        value: facts.limits.chargeInterruptedS.attention! + 2 * step,
        unit: 's',
      }),
    ],
    findings: worst ? [interrupted(facts, worst, broke.length > 0 ? broke.length : paused.length)] : [],
  }
}

type Found = { readonly session: Session; readonly stop: Stop }

const longest = (found: readonly Found[]): Found | null =>
  found.reduce<Found | null>(
    (most, each) => (!most || each.stop.lastsS > most.stop.lastsS ? each : most),
    null,
  )

function interrupted(facts: Facts, { session, stop }: Found, count: number): Finding {
  const cause: StopCause = stop.first.cause
  const broke = stop.kind === 'broke-off'
  const words = STOP_WORDS[cause]
  const later = stop.all
    .filter((each) => each !== stop.first)
    .map((each) => `${STOP_WORDS[each.cause]} (${(each.atS - stop.first.atS).toFixed(1)} s later)`)
  const back =
    stop.againS === null
      ? 'It did not come back while the log lasts.'
      : `It came back after ${lengthText(stop.lastsS)}.`
  return finding({
    kind: 'charge-interrupted',
    subject: { type: 'charger' },
    span_s: [stop.fromS, stop.againS ?? stop.fromS + stop.lastsS],
    value: stop.lastsS,
    unit: 's',
    plusMinus: stop.plusMinusS,
    bound: stop.againS === null ? 'at-least' : 'exact',
    limit: facts.limits.chargeInterruptedS,
    // a pause that the battery unit made itself is told and no more
    ...(broke ? {} : { severity: 'note' as const }),
    headline: broke
      ? `The charge broke off at ${clockText(stop.fromS)}; first: ${words}`
      : `The charge paused at ${clockText(stop.fromS)}; first: ${words}`,
    reason: [
      `${stop.before_a.toFixed(1)} A flowed, then none. ${back}`,
      ...(stop.tied
        ? ['Other changes lie within the same sample of this log: their order is taken from how charges run.']
        : []),
      ...(later.length > 0 ? [`After it: ${later.join(', ')}.`] : []),
      ...(count > 1 ? [`${count} such stops are in this log; this is the longest.`] : []),
    ].join(' '),
    next_step: NEXT[cause],
    cautions: [
      'Never pull a plug under current; leave station and cable closed.',
      ...(['contactor', 'interlock'].includes(cause) ? [DC_LINK, OUTSIDE_BOX] : []),
    ],
    channels: logged(facts, [session.series.deliveredFrom, ...stop.all.map(({ channel }) => channel)]),
    question: QUESTION,
  })
}

const NEXT: Readonly<Record<StopCause, string>> = {
  request:
    'Read what the battery unit held against its limits at that moment: cells, temperatures, its fault list.',
  enable: 'Look for what takes the release away: timer, key, the car’s own settings.',
  lock: 'Look at the inlet’s lock and its feedback wire: does it hold when the cable is moved by hand, without current?',
  plug: 'Look at plug and inlet: fully home, detection contact clean and dry (eyes and torch).',
  'car-let-go': 'Read the charge unit’s own fault list; then its pilot circuit.',
  interlock:
    'Look at each connector and cover that the interlock loop runs through, the charge inlet’s first.',
  mains:
    'Look at the supply first: breaker, earth-leakage switch, the station’s display and its log; then another station.',
  station: 'Look at the station’s display, release and log; then another station or cable.',
  fault: 'Read the battery unit’s fault list and write it down before anything is changed.',
  contactor:
    'Read why the battery unit opened: its fault list, its 12 V supply and the contactor’s coil wire.',
  unknown:
    'Log what asks for the charge as well: the battery unit’s current request, pilot, charging enabled.',
  charger: 'Read the charger’s own fault list and temperature; look at its connectors with the plug out.',
}
