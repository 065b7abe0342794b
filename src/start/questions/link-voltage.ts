import type { Finding, Question } from '../../../shared/review.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { DC_LINK, INSIDE_BOX, OUTSIDE_BOX } from '../../facts/cautions.ts'
import { type Facts, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { RUNG_QUESTIONS } from '../../facts/rung-questions.ts'
import { openSpells } from '../models/precharge-discharge.ts'
import { type WeldSign, weldSigns } from '../models/precharge-welds.ts'

/**
 * What does the link do with the contactors open?
 *
 * Model: stays at pack voltage → a pair of contactors conducts; up before precharge with one main contactor closed →
 *   the other conducts; falls slower than 5 s to 60 V → slow discharge (`models/precharge-discharge.ts`).
 * Reads: link_voltage, pack_voltage [V], contactor_* with command and feedback, speed [km/h].
 * Gives: `contactor-welded` [V], `link-discharge-slow` [s].
 * Biased by: two voltage sensors’ gains; a link sensor that reads on after its unit sleeps.
 * Blind: one welded pole alone while the other is open; a fall that the log does not hold.
 * Source: RC discharge; 60 V in 5 s: FSAE EV.7.2.2.c.
 */
export function linkVoltage(facts: Facts): Answer {
  const welds = weldFindings(facts)
  const slow = dischargeFindings(facts)
  return {
    questions: [weldQuestion(facts, welds.length > 0), dischargeQuestion(facts, slow.length > 0)],
    findings: [...welds, ...slow],
  }
}

const evidence = (facts: Facts): string[] =>
  [...facts.drive.channels.keys()].filter(
    (id) => id === 'link_voltage' || id === 'pack_voltage' || id.startsWith('contactor_'),
  )

function weldFindings(facts: Facts): Finding[] {
  const signs = facts.once(weldSigns)
  const groups = new Map<string, WeldSign[]>()
  for (const sign of signs) {
    const key = sign.name ?? 'pair'
    groups.set(key, [...(groups.get(key) ?? []), sign])
  }
  return [...groups.values()].map((all) => {
    const sure =
      all.find((each) => each.sureness === 'sure') ??
      all.find((each) => each.sureness === 'likely') ??
      all[0]!
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
      severity: ({ sure: 'stop', likely: 'attention', doubtful: 'note' } as const)[sure.sureness],
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
      channels: evidence(facts),
      evidence_s: [sure.startS, sure.endS],
    })
  })
}

function weldQuestion(facts: Facts, found: boolean): Question {
  const ask = RUNG_QUESTIONS.contactors
  const spells = facts.once(openSpells)
  if (spells.length === 0 && !found) {
    const missing = unlogged(facts, ['link_voltage', 'contactor_positive', 'contactor_negative'])
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
      channels: evidence(facts),
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
      unlogged(facts, ['link_voltage']),
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
