import type { Charge, Finding } from '../../../shared/review.ts'
import { capital } from '../../../shared/wording.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { DC_LINK, OUTSIDE_BOX } from '../../facts/cautions.ts'
import { type Facts, logged, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { type JudgedCharge, judgedCharges } from '../models/charge-chain.ts'

/**
 * Did a charge that was asked for begin?
 *
 * Model:  the charge chain (`models/charge-steps.ts`): cable, drive held off, pilot at 9 V, duty, lock, battery unit,
 *   interlock, precharge, contactors, request, pilot at 6 V, mains, current; each step judged by its own channel; the
 *   first that is false where no current came.
 * Reads: charge_plug, charge_lock, charge_enable, contactors, interlock_closed, drive_ready [0/1], proximity_resistance
 *   [Ω], pilot_voltage, mains_voltage, link_voltage, pack_voltage [V], pilot_duty, soc [%], bms_state, bms_faults,
 *   charge_current_request, charger_current, pack_current [A].
 * Gives: `charges[]`; `charge-not-started` [attempts]: attention where the last charge failed, note where the log does
 *   not tell whether the car only waited.
 * Biased by: the sign of the pack current where no charger current is logged.
 * Blind: a charge that waits for a timer (nothing asks for it); a plug whose signal nothing proves; a pilot wire that is
 *   open (it reads as a station that is off); why a station gives no mains.
 * Source: IEC 61851-1 (from memory); patience and least current: common practice, no source.
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

function notStarted(facts: Facts, last: JudgedCharge, failed: readonly JudgedCharge[]): Finding {
  const step = last.steps.find(({ name }) => name === last.firstFailed)!
  const labels = (held: boolean | null): string[] =>
    last.steps
      .filter(({ name, verdict }) => verdict.held === held && name !== step.name && name !== 'current')
      .map(({ label }) => label)
  const also = labels(false)
  const unseen = labels(null)
  return finding({
    kind: 'charge-not-started',
    subject: { type: 'start-step', name: step.name },
    span_s: [failed[0]!.startS, last.endS],
    value: failed.length,
    unit: 'attempts',
    plusMinus: 0,
    limit: null,
    severity: last.asked ? 'attention' : 'note',
    headline: last.asked
      ? `A charge was asked for and did not begin: the first step that failed is “${step.label}”`
      : `The plug was in and no charge began; whether one was asked for cannot be told; the first step that did not hold is “${step.label}”`,
    reason: [
      `${capital(step.label)}: ${step.verdict.why}.`,
      ...(also.length > 0
        ? [`What did not hold either, and may only follow from it: ${also.join(', ')}.`]
        : []),
      ...(unseen.length > 0 ? [`Not to be seen in this log: ${unseen.join(', ')}.`] : []),
    ].join(' '),
    next_step: `Look first at: ${step.look}.`,
    cautions: [
      'Never pull a plug under current; leave station and cable closed.',
      ...(['precharge', 'contactors'].includes(step.name) ? [DC_LINK, OUTSIDE_BOX] : []),
    ],
    channels: logged(facts, step.channels),
    question: ASKED,
  })
}
