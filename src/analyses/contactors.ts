import type { Finding, Question } from '../../shared/review.ts'
import { median } from '../math/stats.ts'
import { DC_LINK, INSIDE_BOX, OUTSIDE_BOX } from '../models/cautions.ts'
import { openSpells } from '../models/precharge-discharge.ts'
import { type WeldSign, weldSigns } from '../models/precharge-welds.ts'
import { type Opening, openings } from '../models/start-openings.ts'
import { MOVING_KMH, speedChannel } from '../models/start-sequences.ts'
import {
  type ContactorName,
  contactorTrack,
  isDuty,
  samplesIn,
  startSignals,
  stretches,
  switchTrack,
  valueAt,
} from '../models/start-signals.ts'
import { type Answer, assessed, type Facts, finding, notAssessed } from './analysis.ts'

/**
 * Do the contactors open and close as they should?
 *
 * Method: link voltage with all contactors open (`models/precharge-discharge.ts`): stays at pack voltage → welded;
 *   falls slower than 5 s to 60 V → slow discharge. Commands against feedback; openings with current; bounce.
 * Reads: contactor_* with command and feedback [0/1 or coil duty in %], link_voltage, pack_voltage [V], pack_current [A].
 * Gives: `contactor-welded` [V], `link-discharge-slow` [s], `contactor-opened-under-load` [A],
 *   `contactor-feedback-disagrees` [s], `contactor-bounce` [ms].
 * Blind: one welded pole alone while the other is open; a contactor that is not logged; bounce between samples.
 * Source: RC discharge; 60 V in 5 s: FSAE EV.7.2.2.c.
 */
export function contactors(facts: Facts): Answer {
  const welds = weldFindings(facts)
  const slow = dischargeFindings(facts)
  const loaded = facts.once(openings).flatMap((opening) => loadedFinding(facts, opening))
  const disagreeing = feedbackFindings(facts)
  return {
    questions: [
      weldQuestion(facts, welds.length > 0),
      dischargeQuestion(facts, slow.length > 0),
      loadQuestion(
        facts,
        loaded.some((each) => each.severity !== 'note'),
      ),
      feedbackQuestion(facts, disagreeing.length > 0),
    ],
    findings: [...welds, ...slow, ...loaded, ...disagreeing, ...bounces(facts)],
    assumptions: economisers(facts),
  }
}

const evidence = (facts: Facts, ids: readonly string[]): string[] =>
  ids.filter((id) => facts.drive.channels.has(id))
const CONTACTOR_IDS = ['contactor_positive', 'contactor_negative', 'contactor_precharge'].flatMap((id) => [
  id,
  `${id}_feedback`,
  `${id}_command`,
])

function weldFindings(facts: Facts): Finding[] {
  const signs = facts.once(weldSigns)
  const groups = new Map<string, WeldSign[]>()
  for (const sign of signs) {
    const key = sign.name ?? 'pair'
    groups.set(key, [...(groups.get(key) ?? []), sign])
  }
  return [...groups.values()].map((all) => {
    const sure = all.find((each) => each.doubt === null) ?? all[0]!
    const linkV = Number.isFinite(sure.linkV) ? sure.linkV : null
    const what = {
      'stays-up': `with all contactors open the link stood at ${linkV?.toFixed(1)} V of the pack’s ${sure.packV.toFixed(0)} V for ${(sure.endS - sure.startS).toFixed(1)} s without falling`,
      'up-before-closing': `the link was at ${linkV?.toFixed(1)} V of the pack’s ${sure.packV.toFixed(0)} V before precharge began, with only the other main contactor closed`,
      'feedback-stays': `its feedback stayed closed for ${(sure.endS - sure.startS).toFixed(1)} s after its command went off`,
    }[sure.sign]
    return finding({
      kind: 'contactor-welded',
      subject: { type: 'contactor', ...(sure.name ? { name: sure.name } : {}) },
      span_s: [all[0]!.startS, all.at(-1)!.endS],
      value: linkV,
      unit: 'V',
      plusMinus: linkV === null ? null : Math.max(1, 0.015 * linkV),
      limit: {
        attention: 60,
        stop: 60,
        unit: 'V',
        source: 'UN R100 and FSAE T.9.1: up to 60 V DC is low voltage',
      },
      severity: sure.doubt === null ? 'stop' : sure.sign === 'stays-up' ? 'note' : 'attention',
      headline: sure.name
        ? `The ${sure.name} contactor seems to conduct when it should be open`
        : 'The link stays at pack voltage with the contactors open: a contactor pair seems welded',
      reason: `${what[0]!.toUpperCase()}${what.slice(1)}${all.length > 1 ? ` (${all.length} times)` : ''}.${sure.doubt ? ` In doubt: ${sure.doubt}.` : ''}`,
      next_step:
        'Treat the link as live. Measure the link with the service plug out by the pack maker’s procedure; test both contactors with their coils off, box opened by qualified people only.',
      cautions: ['The link may be at pack voltage with the key off.', DC_LINK, INSIDE_BOX],
      rivals: [
        {
          kind: 'link-discharge-slow',
          subject: { type: 'precharge' },
          likelihood_ratio: null,
          for: 'an open bleed resistor also leaves the link charged',
          against: 'a charged link without a feed still falls; no fall is seen',
          decided_by: 'link voltage logged for minutes after key off',
        },
        {
          kind: 'back-feed',
          subject: { type: 'supply' },
          likelihood_ratio: null,
          for: 'a charger or a DC-DC that runs backwards can hold the link up',
          against: 'it would rarely hold exactly pack voltage',
          decided_by: 'charger and DC-DC isolated, then the link measured',
        },
      ],
      channels: evidence(facts, ['link_voltage', 'pack_voltage', ...CONTACTOR_IDS]),
      evidence_s: [sure.startS, sure.endS],
    })
  })
}

function weldQuestion(facts: Facts, found: boolean): Question {
  const ask = 'Does a contactor conduct when it should be open?'
  const spells = facts.once(openSpells)
  if (spells.length === 0 && !found) {
    const missing = ['link_voltage', 'contactor_positive', 'contactor_negative'].filter(
      (id) => !facts.drive.channels.has(id),
    )
    return notAssessed(
      'start',
      ask,
      missing,
      'the link voltage with the contactors open is not seen',
      'Log link voltage and contactors from before the key is turned until 10 s after it is off.',
      'V',
    )
  }
  const fell = spells.filter((spell) => spell.afterOpening && !spell.staysUp)
  return assessed(
    'start',
    ask,
    found,
    `${spells.length} ${spells.length === 1 ? 'stretch' : 'stretches'} with all contactors open${fell.length > 0 ? `; the link fell to ${fell.at(-1)!.lastV.toFixed(1)} V after the last opening` : ''}. One welded pole alone cannot be seen in a log like this`,
  )
}

function dischargeFindings(facts: Facts): Finding[] {
  const limit = facts.limits.linkDischargeS
  const slow = facts
    .once(openSpells)
    .filter((spell) => spell.afterOpening && !spell.staysUp && !spell.frozen && spell.to60 !== null)
    .filter((spell) => spell.to60!.value > (limit.attention ?? 5))
  if (slow.length === 0) return []
  const worst = slow.reduce((a, b) => (b.to60!.value > a.to60!.value ? b : a))
  const to60 = worst.to60!
  const shown = worst.lastV <= 61
  return [
    finding({
      kind: 'link-discharge-slow',
      subject: { type: 'precharge' },
      span_s: [worst.startS, worst.endS],
      value: to60.value,
      unit: 's',
      low: to60.low,
      high: Number.isFinite(to60.high) ? to60.high : null,
      bound: worst.to60Bound,
      limit,
      headline: `The link takes ${worst.to60Bound === 'at-least' ? 'more than ' : ''}${to60.value.toFixed(1)} s to fall to 60 V`,
      reason: `After the contactors opened the link fell from ${worst.firstV.toFixed(0)} V to ${worst.lastV.toFixed(0)} V in ${(worst.endS - worst.startS).toFixed(1)} s${
        worst.tau ? `, time constant ${worst.tau.value.toFixed(2)} s` : ''
      }${shown || worst.to60Bound === 'at-least' ? '' : '; the time to 60 V is carried on from that curve'}.`,
      next_step:
        'Check the discharge (bleed) resistor and, where fitted, the inverter’s own discharge: isolate, wait the maker’s time, prove dead, then measure across the link.',
      cautions: [DC_LINK, OUTSIDE_BOX],
      channels: evidence(facts, ['link_voltage', ...CONTACTOR_IDS]),
    }),
  ]
}

function dischargeQuestion(facts: Facts, found: boolean): Question {
  const ask = 'Does the link discharge to 60 V within 5 s?'
  const spells = facts
    .once(openSpells)
    .filter((spell) => spell.afterOpening && spell.to60 !== null && !spell.frozen)
  const exact = spells.filter((spell) => spell.to60Bound === 'exact')
  if (exact.length === 0 && !found)
    return notAssessed(
      'start',
      ask,
      ['link_voltage'].filter((id) => !facts.drive.channels.has(id)),
      spells.length > 0
        ? 'the log ends before the link’s fall says enough'
        : 'no fall of the link after an opening at standstill is seen',
      'Let the log run for 10 s after the key is off.',
      's',
    )
  const worst = exact.reduce((most, spell) => Math.max(most, spell.to60!.value), 0)
  const half = exact.reduce((most, spell) => Math.max(most, (spell.to60!.high - spell.to60!.low) / 2), 0)
  return assessed(
    'start',
    ask,
    found,
    `${exact.length} ${exact.length === 1 ? 'fall' : 'falls'} seen, the slowest ${worst.toFixed(1)} s`,
    {
      value: (facts.limits.linkDischargeS.attention ?? 5) + half,
      unit: 's',
    },
  )
}

/** A planned opening at standstill may break a heater’s current; an unplanned one is looked at earlier. Common practice, no source. */
const PLANNED_A = 20
const UNPLANNED_A = 5
const HEAVY_A = 100

function loadedFinding(facts: Facts, opening: Opening): Finding[] {
  const amperes = Math.abs(opening.amperes)
  if (!(amperes > UNPLANNED_A)) return []
  const { key } = facts.once(startSignals)
  const { change } = opening
  const speed = samplesIn(speedChannel(facts), change.atS - 2, change.atS).values.at(-1) ?? 0
  const keyOff = valueAt(key, change.atS) === 0
  const planned = keyOff && Math.abs(speed) < 2 * MOVING_KMH
  const attention = planned ? PLANNED_A : UNPLANNED_A
  return [
    finding({
      kind: 'contactor-opened-under-load',
      subject: { type: 'contactor', name: opening.name },
      span_s: [Number.isFinite(change.earliestS) ? change.earliestS : change.atS, change.atS],
      onset_s: change.atS,
      value: amperes,
      unit: 'A',
      plusMinus: opening.plusMinusA,
      limit: { attention, stop: HEAVY_A, unit: 'A', source: 'common practice, no source' },
      stopOnEstimate: true,
      headline: `The ${opening.name} contactor opened with ${amperes.toFixed(0)} A flowing`,
      reason: `The last pack current before it opened was ${opening.amperes.toFixed(1)} A${Math.abs(speed) > MOVING_KMH ? ` at ${Math.abs(speed).toFixed(0)} km/h` : ''}; contacts that break load burn and can weld.`,
      next_step:
        'Find what opened it (see the order of events). Then have both main contactors’ resistance and opening checked by the pack maker’s procedure before the car is used.',
      cautions: [DC_LINK, INSIDE_BOX],
      channels: evidence(facts, ['pack_current', ...CONTACTOR_IDS]),
      evidence_s: [change.atS - 1, change.atS + 1],
    }),
  ]
}

function loadQuestion(facts: Facts, found: boolean): Question {
  const ask = 'Did a contactor open with current flowing?'
  const seen = facts.once(openings)
  const known = seen.filter((each) => Number.isFinite(each.amperes))
  if (known.length === 0)
    return notAssessed(
      'start',
      ask,
      ['pack_current', 'contactor_positive'].filter((id) => !facts.drive.channels.has(id)),
      seen.length > 0
        ? 'no pack current close enough to the opening'
        : 'no opening of a main contactor is seen',
      'Log contactors and pack current until the key is off.',
      'A',
    )
  return assessed(
    'start',
    ask,
    found,
    `${known.length} opening${known.length === 1 ? '' : 's'} with the current known`,
    {
      value: UNPLANNED_A + Math.max(...known.map((each) => each.plusMinusA)),
      unit: 'A',
    },
  )
}

const NAMES: readonly ContactorName[] = ['precharge', 'positive', 'negative']
/** Longer than a contactor takes to move, s. Common practice, no source. */
const MOVE_S = 0.5

/** Commanded closed and feedback open although the link says that it closed: the feedback contact is at fault. */
function feedbackFindings(facts: Facts): Finding[] {
  return NAMES.flatMap((name) => {
    const command = switchTrack(facts, `contactor_${name}_command`)
    const feedback = switchTrack(facts, `contactor_${name}_feedback`)
    if (!command || !feedback) return []
    let longest = 0
    let at: [number, number] | null = null
    for (const asked of stretches(command, (v) => v === 1, facts.drive.durationS))
      for (const off of stretches(feedback, (v) => v === 0, facts.drive.durationS)) {
        const fromS = Math.max(asked.startS, off.startS)
        const toS = Math.min(asked.endS, off.endS)
        if (toS - fromS > longest) {
          longest = toS - fromS
          at = [fromS, toS]
        }
      }
    if (!at || longest < MOVE_S) return []
    return [
      finding({
        kind: 'contactor-feedback-disagrees',
        subject: { type: 'contactor', name },
        span_s: at,
        value: longest,
        unit: 's',
        plusMinus:
          (Number.isFinite(feedback.periodS) ? feedback.periodS : 0) +
          (Number.isFinite(command.periodS) ? command.periodS : 0),
        limit: { attention: MOVE_S, stop: null, unit: 's', source: 'common practice, no source' },
        headline: `The ${name} contactor was commanded closed and its feedback said open for ${longest.toFixed(1)} s`,
        reason: `Command on and feedback off from ${at[0].toFixed(2)} to ${at[1].toFixed(2)} s: coil, driver, wire or feedback contact.`,
        next_step:
          'Measure the coil voltage at the box connector while it is commanded; then the feedback contact’s wire.',
        cautions: [DC_LINK, OUTSIDE_BOX, INSIDE_BOX],
        channels: [`contactor_${name}_command`, `contactor_${name}_feedback`],
      }),
    ]
  })
}

function feedbackQuestion(facts: Facts, found: boolean): Question {
  const ask = 'Do the contactors follow their commands?'
  const both = NAMES.filter(
    (name) =>
      switchTrack(facts, `contactor_${name}_command`) && switchTrack(facts, `contactor_${name}_feedback`),
  )
  if (both.length === 0)
    return notAssessed(
      'start',
      ask,
      ['contactor_positive_command', 'contactor_positive_feedback'],
      'command and feedback of a contactor are not both logged',
      'Log command and feedback of every contactor.',
      's',
    )
  return assessed('start', ask, found, `compared: ${both.join(', ')}`, { value: MOVE_S, unit: 's' })
}

/** Closed, open and closed again within a tenth of a second. */
function bounces(facts: Facts): Finding[] {
  return NAMES.flatMap((name) => {
    const track = contactorTrack(facts, name)
    if (!track) return []
    const bounced = track.changes.filter((change, i) => {
      const back = track.changes[i + 1]
      return i > 0 && change.value === 0 && back !== undefined && back.atS - change.atS <= 0.1
    })
    const first = bounced[0]
    if (!first) return []
    const back = track.changes[track.changes.indexOf(first) + 1]!
    return [
      finding({
        kind: 'contactor-bounce',
        subject: { type: 'contactor', name },
        span_s: [first.atS, back.atS],
        value: (back.atS - first.atS) * 1000,
        unit: 'ms',
        plusMinus: Number.isFinite(track.periodS) ? track.periodS * 1000 : null,
        limit: null,
        severity: 'note',
        headline: `The ${name} contactor dropped out and came back ${bounced.length === 1 ? 'once' : `${bounced.length} times`}`,
        reason: `Open for ${((back.atS - first.atS) * 1000).toFixed(0)} ms at ${first.atS.toFixed(2)} s: bounce, a weak coil supply, or a sample lost.`,
        next_step: 'Compare with the 12 V supply at the same moment; check the coil’s connector.',
        cautions: [OUTSIDE_BOX],
        channels: evidence(facts, [track.id, 'lv_voltage']),
      }),
    ]
  })
}

/** What the coils are held with, where a duty in % is logged. */
function economisers(facts: Facts): NonNullable<Answer['assumptions']> {
  return CONTACTOR_IDS.flatMap((id) => {
    const channel = facts.drive.channels.get(id)
    if (!channel || !isDuty(channel)) return []
    const held = channel.values.filter((v) => v > 5)
    return [
      {
        what: `${id} is a coil duty; it holds with`,
        value: median(held),
        unit: '%',
        source: 'learned from the log',
      },
    ]
  })
}
