import type { Charge, Finding } from '../../../shared/review.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { type Facts, logged, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { type JudgedCharge, judgedCharges } from '../models/charge-chain.ts'

/**
 * Did a charge that was asked for begin?
 *
 * Model:  the charge chain, plug → lock → station offers → battery unit → contactors → current, each step judged by its
 *   own channel; the first that is false where no current came.
 * Reads: charge_plug, charge_lock, charge_enable, contactor_charge, contactor_positive, contactor_negative [0/1],
 *   pilot_duty [%], bms_state, bms_faults, charger_current, pack_current [A], mains_voltage [V], soc [%].
 * Gives: `charges[]`; `charge-not-started` [attempts], attention, where the last charge failed.
 * Biased by: the sign of the pack current where no charger current is logged.
 * Blind: a charge that waits for a timer (nothing asks for it); a plug whose signal nothing proves.
 * Source: pilot duty: IEC 61851-1, annex A (from memory); patience and least current: common practice, no source.
 */
export function chargeStart(facts: Facts): Answer {
  const judged = facts.once(judgedCharges)
  const charges: Charge[] = judged.map((each) => ({
    span_s: [each.startS, each.endS],
    reached: each.reached,
    steps: each.steps.map(({ name, verdict }) => ({
      name,
      held: verdict.held,
      at_s: verdict.atS,
      why: verdict.why,
    })),
    first_failed: each.firstFailed,
  }))
  const last = judged.at(-1)
  const failed = last?.firstFailed ? judged.filter((each) => each.firstFailed === last.firstFailed) : []
  const findings = last && failed.length > 0 ? [notStarted(facts, last, failed)] : []
  const shows = logged(facts, ['charge_plug', 'bms_state'])
  return {
    questions: [
      judged.length === 0
        ? notAssessed(
            'start',
            ASKED,
            unlogged(facts, ['charge_plug', 'charger_current']),
            shows.length > 0 ? 'no charge is seen in this log' : 'no channel shows a charge',
            'Log a charge from before the plug goes in, with plug, contactors and charger current.',
          )
        : assessed(
            'start',
            ASKED,
            findings.length > 0,
            `${judged.length} ${judged.length === 1 ? 'charge' : 'charges'} seen, ${
              judged.filter(({ reached }) => reached === 'charging').length
            } with current`,
          ),
    ],
    findings,
    sections: { charges },
  }
}

const ASKED = 'Did a charge that was asked for begin?'

/** What to look at when a step of the charge chain fails. Common practice, no source. */
const LOOK: Readonly<Record<string, string>> = {
  lock: 'the inlet’s lock: does it move and does its feedback follow, with the plug fully home (eyes, a second person)',
  pilot: 'another station or cable first; then plug and inlet contacts, dry and straight (eyes and torch)',
  battery: 'the battery unit’s own fault list, read and written down before anything is changed',
  contactors: 'what the battery unit waits for: its fault list, cell temperatures and limits, read live',
  current:
    'what the battery unit asks of the charger (current and voltage), and the charger’s own fault list',
}

function notStarted(facts: Facts, last: JudgedCharge, failed: readonly JudgedCharge[]): Finding {
  const step = last.steps.find(({ name }) => name === last.firstFailed)!
  const unseen = last.steps.filter(({ verdict }) => verdict.held === null).map(({ label }) => label)
  return finding({
    kind: 'charge-not-started',
    subject: { type: 'start-step', name: step.name },
    span_s: [failed[0]!.startS, last.endS],
    value: failed.length,
    unit: 'attempts',
    plusMinus: 0,
    limit: null,
    severity: 'attention',
    headline: `A charge was asked for and did not begin: ${step.label} is the first step that failed`,
    reason: `${step.label}: ${step.verdict.why}.${unseen.length > 0 ? ` Not to be seen in this log: ${unseen.join(', ')}.` : ''}`,
    next_step: `Look first at: ${LOOK[step.name] ?? step.label}.`,
    cautions: ['Never pull a plug under current; leave station and cable closed.'],
    channels: logged(facts, step.channels),
    question: ASKED,
  })
}
