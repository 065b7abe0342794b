import type { Finding, Severity } from '../../../shared/review.ts'
import type { Span } from '../../../shared/units.ts'
import type { Unit } from '../../car/unit-state.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { INSIDE_BOX } from '../../facts/cautions.ts'
import { type Facts, logged } from '../../facts/facts.ts'
import { finding, findingId } from '../../facts/finding.ts'
import { changesIn, type ReportedFault, reportedFaults } from '../models/reported-faults.ts'
import { type Failure, failureAtEnd, failureBefore } from '../models/start-failure.ts'
import { losses } from '../models/start-losses.ts'
import { judgedAttempts } from '../models/start-verdicts.ts'

/**
 * Did a control unit report a fault?
 *
 * Model:  a state whose word means a fault, a set fault bit, a fault text; the words are the vehicle file's, else the
 *   log's own. Cause or echo by order: a fault that comes up when or after a start was stopped, or drive lost, by
 *   another step is explained by that.
 * Reads: bms_state, inverter_state, bms_faults, inverter_faults [code, bits or text].
 * Gives: `fault-reported` [s], one a unit: attention; stop where its words name isolation, contactor, torque, pedal,
 *   brake, cell limit or temperature; note where it cleared before drive ready.
 * Biased by: the rate at which the unit is logged (a change is put at the sample that shows it).
 * Blind: a code that neither text nor vehicle file names as a fault; the first second after a unit wakes.
 * Source: the contract's severities; what follows what within a second: common practice, no source.
 */
export function faultReported(facts: Facts): Answer {
  const faults = facts.once(reportedFaults)
  const watched = logged(facts, ['bms_faults', 'inverter_faults', 'bms_state', 'inverter_state'])
  const findings = (['bms', 'inverter'] as const).flatMap((unit) => {
    const mine = faults.filter((each) => each.unit === unit)
    return mine.length > 0 ? [unitFinding(facts, unit, mine)] : []
  })
  return {
    questions: [
      watched.length === 0
        ? notAssessed(
            'start',
            ASKED,
            ['bms_faults', 'inverter_faults'],
            'no state or fault word is logged',
            'Log state and fault words of battery unit and inverter.',
          )
        : assessed('start', ASKED, findings.length > 0, `watched: ${watched.join(', ')}`),
    ],
    findings,
  }
}

const ASKED = 'Did a control unit report a fault?'
const UNIT = { bms: 'battery unit', inverter: 'inverter' } as const

/** Words that the contract counts as stop. */
const GRAVE =
  /isol|insul|\bleak|earth fault|ground fault|contactor|relay|weld|torque|pedal|accelerator|throttle|brake|cell|over-?\s?volt|under-?\s?volt|temp|therm|overheat/i

/** What changed this long before a fault may have brought it up, and what changed this long after followed it, s. */
const BEFORE_S = 1
const AFTER_S = 2

function unitFinding(facts: Facts, unit: Unit, faults: readonly ReportedFault[]): Finding {
  const spans = faults.flatMap((each) => each.spans).sort((a, b) => a.startS - b.startS)
  const longest = spans.reduce((a, b) => (b.endS - b.startS > a.endS - a.startS ? b : a))
  const first = spans[0]!
  const seconds = longest.endS - longest.startS
  const telling = faults.filter(({ bare }) => !bare)
  const words = [...new Set((telling.length > 0 ? telling : faults).map((each) => each.words))]
  const said = words.map((each) => `“${each}”`).join(', ')
  const before = changesIn(facts, first.startS - BEFORE_S, first.startS - 1e-9, unit)
  const after = changesIn(facts, first.startS - 1e-9, first.startS + AFTER_S, unit)
  const cause = explainedBy(facts, unit, first.startS)
  const times = `${faults
    .flatMap((each) =>
      each.spans.map(
        ({ startS, endS }) =>
          `“${each.words}” from ${startS.toFixed(2)} s on, for ${lasting(endS - startS)} s`,
      ),
    )
    .slice(0, MOST)
    .join('; ')}`
  const made = finding({
    kind: 'fault-reported',
    subject: { type: 'unit', name: unit },
    span_s: [longest.startS, longest.endS] as Span,
    onset_s: first.startS,
    value: seconds,
    unit: 's',
    low: null,
    high: null,
    bound: longest.to === null || !Number.isFinite(longest.from.earliestS) ? 'at-least' : 'exact',
    limit: null,
    severity: severityOf(facts, faults),
    headline: `The ${UNIT[unit]} reported ${said}, longest for ${seconds < 1 ? seconds.toFixed(2) : seconds.toFixed(0)} s`,
    reason: `${times}. ${
      before.length > 0
        ? `In the second before: ${before.join(', ')}.`
        : 'In the second before, nothing else that is logged of the start chain changed.'
    } ${after.length > 0 ? `What followed: ${after.join(', ')}.` : 'Nothing of the start chain changed in the two seconds after it.'}${
      cause ? ` It came ${cause.how}, so it is rather the answer to it than its reason.` : ''
    }${faults.some(({ named }) => !named) ? ' The vehicle file does not name every bit.' : ''}`,
    next_step: `Read the ${UNIT[unit]}’s own fault list and write it down before anything is changed or cleared; then look at what ${words.length === 1 ? 'it names' : 'they name'}: ${said}.`,
    cautions: ['Write faults down; do not clear them to see.', ...(unit === 'bms' ? [INSIDE_BOX] : [])],
    channels: [...new Set(faults.map((each) => each.channel))],
    question: ASKED,
  })
  return cause ? { ...made, explained_by: cause.id } : made
}

const MOST = 6

const lasting = (seconds: number): string => seconds.toFixed(seconds < 10 ? 2 : 0)

function severityOf(facts: Facts, faults: readonly ReportedFault[]): Severity {
  const standing = faults.filter((each) => !clearedBeforeReady(facts, each))
  if (standing.length === 0) return 'note'
  return standing.some(({ words }) => GRAVE.test(words)) ? 'stop' : 'attention'
}

/** Every time it stood, it was gone before drive ready of the attempt that it stood in, or before the next. */
function clearedBeforeReady(facts: Facts, { spans }: ReportedFault): boolean {
  const judged = facts.once(judgedAttempts)
  return spans.every(({ startS, endS, to }) => {
    if (to === null) return false
    const mine = judged.find(({ attempt }) => attempt.endS > startS)
    return mine?.outcome.ready != null && endS <= mine.outcome.ready.atS && startS < mine.outcome.ready.atS
  })
}

/** Steps that a unit's own fault is, by unit. */
const OWN_STEP = { bms: 'battery', inverter: 'inverter' } as const
/** A unit answers to what stopped the chain within this long, s. Common practice, no source. */
const ANSWERS_S = 5

/** The failed start or the loss that the fault answers to; null where the fault came first, or by itself. */
function explainedBy(facts: Facts, unit: Unit, atS: number): { id: string; how: string } | null {
  for (const failure of [failureAtEnd(facts), failureBefore(facts)]) {
    if (!failure || failure.name === OWN_STEP[unit]) continue
    const failedS = failedAt(failure, atS)
    if (failedS === null) continue
    const label = failure.step?.label ?? failure.name
    return {
      id: findingId('no-drive', { type: 'start-step', name: failure.name }),
      how: `as the start failed at ${label}`,
    }
  }
  const loss = facts
    .once(losses)
    .find(
      (each) =>
        each.events[0]!.step !== OWN_STEP[unit] &&
        atS >= each.events[0]!.change.earliestS &&
        atS - each.atS < ANSWERS_S,
    )
  if (!loss) return null
  const name = loss.events[0]!.step
  return {
    id: findingId('drive-lost', { type: 'start-step', name }),
    how: `with the loss of drive at ${name}`,
  }
}

/** The failed attempt in or after which the fault came up, its step having failed by then. */
function failedAt({ failed, name }: Failure, atS: number): number | null {
  for (const { attempt, steps } of failed) {
    const verdict = steps.find(({ step }) => step.name === name)?.verdict
    const fromS = verdict?.earliestS ?? attempt.startS
    if (atS >= Math.min(fromS, attempt.endS) - 1e-9 && atS <= attempt.endS + ANSWERS_S) return fromS
  }
  return null
}
