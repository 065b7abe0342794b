import type { Finding, Question } from '../../../shared/review.ts'
import { packCurrent } from '../../car/pack-current.ts'
import { MOVING_KMH } from '../../drive/motion.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { DC_LINK, INSIDE_BOX, OUTSIDE_BOX } from '../../facts/cautions.ts'
import { type Facts, logged, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { median } from '../../math/stats.ts'
import { currentGoesOn, type Opening, openings } from '../models/start-openings.ts'
import { speedChannel } from '../models/start-sequences.ts'
import {
  type ContactorName,
  contactorTrack,
  samplesIn,
  startSignals,
  stretches,
  switchTrack,
  valueAt,
} from '../models/start-signals.ts'
import { judgedAttempts } from '../models/start-verdicts.ts'

/** A contact that opens and closes again so soon bounced, or its reading did; no source. */
const BOUNCE_S = 0.1

/**
 * Do the contactors open and close as they should?
 *
 * Model: commands against feedback; the current at each opening; openings shorter than a tenth of a second.
 * Reads: contactor_* with command and feedback [0/1], pack_current [A], speed [km/h].
 * Gives: `contactor-opened-under-load` [A], `contactor-feedback-disagrees` [s], `contactor-bounce` [ms].
 * Biased by: a feedback logged slower than its command.
 * Blind: a contactor that is not logged; bounce between samples.
 * Source: common practice, no source; the current limits: `LIMITS`.
 */
export function contactors(facts: Facts): Answer {
  const loaded = facts.once(openings).flatMap((opening) => loadedFinding(facts, opening))
  const disagreeing = feedbackFindings(facts)
  return {
    questions: [
      loadQuestion(
        facts,
        loaded.some((each) => each.severity !== 'note'),
      ),
      feedbackQuestion(facts, disagreeing.length > 0),
    ],
    findings: [...loaded, ...disagreeing, ...falseOpenings(facts), ...bounces(facts)],
  }
}

const CONTACTOR_IDS = ['contactor_positive', 'contactor_negative', 'contactor_precharge'].flatMap((id) => [
  id,
  `${id}_feedback`,
  `${id}_command`,
])

/**
 * A planned opening at standstill may break a heater’s current; an unplanned one is looked at earlier. Common
 * practice, no source.
 */
const PLANNED_A = 20
const UNPLANNED_A = 5
/** Of the drive's usual current: over half of it, an opening burns the contacts (the contract). */
const HEAVY_SHARE = 0.5

function loadedFinding(facts: Facts, opening: Opening): Finding[] {
  const amperes = Math.abs(opening.amperes)
  if (!(amperes > UNPLANNED_A)) return []
  const { key } = facts.once(startSignals)
  const { change } = opening
  const speed = samplesIn(speedChannel(facts), change.atS - 2, change.atS).values.at(-1) ?? 0
  const keyOff = valueAt(key, change.atS) === 0
  const planned = keyOff && Math.abs(speed) < MOVING_KMH
  const wasReady = facts
    .once(judgedAttempts)
    .some(
      ({ outcome }) =>
        outcome.ready && outcome.ready.atS < change.atS && outcome.attempt.endS >= change.earliestS,
    )
  const usual = facts.once(usualCurrentA)
  const attention = planned || !wasReady ? PLANNED_A : UNPLANNED_A
  return [
    finding({
      kind: 'contactor-opened-under-load',
      subject: { type: 'contactor', name: opening.name },
      span_s: [Number.isFinite(change.earliestS) ? change.earliestS : change.atS, change.atS],
      onset_s: change.atS,
      value: amperes,
      unit: 'A',
      plusMinus: opening.plusMinusA,
      limit: {
        attention,
        stop: Math.max(attention, HEAVY_SHARE * usual),
        unit: 'A',
        source: 'stop: half of this drive’s usual current; common practice, no source',
      },
      stopOnEstimate: true,
      headline: `${opening.name === 'main' ? 'A main' : `The ${opening.name}`} contactor opened with ${amperes.toFixed(0)} A flowing`,
      reason: `${
        opening.name === 'main' ? 'The link left the pack’s voltage as the current broke off. ' : ''
      }The last pack current before it opened was ${opening.amperes.toFixed(1)} A${Math.abs(speed) > MOVING_KMH ? ` at ${Math.abs(speed).toFixed(0)} km/h` : ''}; contacts that break load burn and can weld.`,
      next_step:
        'Find what opened it (see the order of events). Then have both main contactors’ resistance and opening checked by the pack maker’s procedure before the car is used.',
      cautions: [DC_LINK, INSIDE_BOX],
      channels: logged(facts, ['pack_current', ...CONTACTOR_IDS]),
      evidence_s: [change.atS - 1, change.atS + 1],
    }),
  ]
}

/** The current usual in this drive: the median of what flows, over 5 A, A; infinite where none ever does. */
function usualCurrentA(facts: Facts): number {
  const current = facts.once(packCurrent)
  const flowing = current ? [...current.amperes].map(Math.abs).filter((a) => a > UNPLANNED_A) : []
  return flowing.length > 0 ? median(flowing) : Number.POSITIVE_INFINITY
}

function loadQuestion(facts: Facts, found: boolean): Question {
  const ask = 'Did a contactor open with current flowing?'
  const seen = facts.once(openings)
  const known = seen.filter((each) => Number.isFinite(each.amperes))
  if (known.length === 0)
    return notAssessed(
      'start',
      ask,
      unlogged(facts, ['pack_current', 'contactor_positive']),
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

/** A main contactor that reads open while current goes on: its reading opened, not the contactor. */
function falseOpenings(facts: Facts): Finding[] {
  return (['positive', 'negative'] as const).flatMap((name) => {
    const track = contactorTrack(facts, name)
    const first = track?.changes.find((c, i) => i > 0 && c.value === 0 && currentGoesOn(facts, c))
    if (!track || !first) return []
    const endS = track.changes.find((c) => c.atS > first.atS)?.atS ?? facts.drive.durationS
    return [
      finding({
        kind: 'contactor-feedback-disagrees',
        subject: { type: 'contactor', name },
        span_s: [first.atS, endS],
        value: endS - first.atS,
        unit: 's',
        plusMinus: Number.isFinite(track.periodS) ? track.periodS : null,
        limit: null,
        severity: 'note',
        headline: `The ${name} contactor reads open while the pack’s current goes on`,
        reason: `It is read open at ${first.atS.toFixed(2)} s, and more than 5 A flow on after it. No current passes an open contactor: the reading opened, not the contactor.`,
        next_step: 'Check the wire and the contact that this reading comes from, and its place in the log.',
        cautions: [OUTSIDE_BOX],
        channels: logged(facts, [track.id, 'pack_current']),
      }),
    ]
  })
}

/** Closed, open and closed again within a tenth of a second. */
function bounces(facts: Facts): Finding[] {
  return NAMES.flatMap((name) => {
    const track = contactorTrack(facts, name)
    if (!track) return []
    const bounced = track.changes.filter((change, i) => {
      const back = track.changes[i + 1]
      return i > 0 && change.value === 0 && back !== undefined && back.atS - change.atS <= BOUNCE_S
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
        channels: logged(facts, [track.id, 'lv_voltage']),
      }),
    ]
  })
}
