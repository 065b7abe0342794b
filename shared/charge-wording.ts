import type { ChargeSession } from './review.ts'
import { clockText, fixedText, holderWord, lengthText, numberText, withInterval } from './wording.ts'

/** What a phase of a charge is called. */
export const PHASE_WORDS: Readonly<Record<ChargeSession['phases'][number]['type'], string>> = {
  'constant-current': 'constant current',
  'constant-voltage': 'constant voltage',
  taper: 'request taken back',
  pause: 'nothing flowing',
}

/** Shorter than this a holder is not worth its words, s. */
const WORTH_S = 60

/** One charge in a few sentences: terminal and sheet. */
export function sessionSentences(session: ChargeSession): string[] {
  const { span_s, into_wh, wall_wh, efficiency_percent, soc_from, soc_to, capacity_ah } = session
  const [from, to] = span_s
  const soc = soc_from === null || soc_to === null ? '' : `, ${soc_from.toFixed(0)} to ${soc_to.toFixed(0)} %`
  const energy = [
    ...(into_wh === null
      ? []
      : [`${withInterval(into_wh / 1000, (session.into_wh_plus_minus ?? 0) / 1000, 'kWh')} into the pack`]),
    ...(wall_wh === null
      ? []
      : [`${withInterval(wall_wh / 1000, (session.wall_wh_plus_minus ?? 0) / 1000, 'kWh')} from the wall`]),
    ...(efficiency_percent === null
      ? []
      : [
          `the charger passes on ${withInterval(efficiency_percent, session.efficiency_percent_plus_minus, '%')}`,
        ]),
  ]
  return [
    `Current from ${clockText(from)} for ${lengthText(to - from)}${soc}${energy.length > 0 ? `: ${energy.join(', ')}` : ''}.`,
    ...(session.phases.length > 0
      ? [
          `In order: ${session.phases.map(({ type, span_s: [a, b] }) => `${PHASE_WORDS[type]} ${lengthText(b - a)}`).join(', ')}.`,
        ]
      : []),
    ...heldSentence(session),
    ...session.stops.map(
      ({ kind, at_s, first, lasts_s, again_s }) =>
        `${STOP_KINDS[kind]} at ${clockText(at_s)}; first: ${first}${again_s === null ? '' : `; back after ${lengthText(lasts_s)}`}.`,
    ),
    ...endSentence(session),
    ...(capacity_ah === null
      ? []
      : [`Capacity between two rests: ${withInterval(capacity_ah, session.capacity_ah_plus_minus, 'Ah')}.`]),
    ...session.notes.map((note) => `${note.charAt(0).toUpperCase()}${note.slice(1)}.`),
  ]
}

const STOP_KINDS = { 'broke-off': 'Broke off', paused: 'Paused', ended: 'Ended' } as const

function heldSentence({ held_s }: ChargeSession): string[] {
  const told = held_s.filter(({ time_s, by }) => time_s >= WORTH_S && by !== 'pause')
  return told.length === 0
    ? []
    : [
        `Who held the current: ${told.map(({ by, time_s }) => `${holderWord(by)} ${lengthText(time_s)}`).join(', ')}.`,
      ]
}

function endSentence({ end }: ChargeSession): string[] {
  if (!end) return []
  const cost =
    end.cost_ah === null
      ? ''
      : `; it ended the charge ${withInterval(end.cost_ah, end.cost_ah_plus_minus, 'Ah')} before the middle cell would have been full`
  return [
    `At the end cell ${end.highest_cell} was highest, ${fixedText(end.above_median_mv, 1)} mV above the middle one, the cells ${numberText(end.spread_mv, 2)} mV apart${cost}.`,
  ]
}
