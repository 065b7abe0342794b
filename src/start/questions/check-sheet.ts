import type { Review } from '../../../shared/review.ts'
import type { Answer } from '../../facts/answer.ts'
import { DC_LINK } from '../../facts/cautions.ts'
import type { Facts } from '../../facts/facts.ts'
import { stepNamed } from '../models/start-chain-order.ts'
import { type Loss, losses } from '../models/start-losses.ts'
import type { StepCheck } from '../models/start-step-checks.ts'
import type { StepDeclaration } from '../models/start-steps.ts'
import { type JudgedAttempt, judgedAttempts, startChain } from '../models/start-verdicts.ts'

type Line = Review['check_sheet'][number]

/**
 * What to look at, in which order, when a start failed or drive was lost.
 *
 * Method: suspects are the first failed step and the steps before it that the log cannot show; their checks are put in
 *   order of likelihood ÷ effort, where the failed step itself counts four times an unseen one. What the log already
 *   answers is on the sheet with the answer in `known`: crossed off, not to be done again.
 * Gives: `check_sheet`, empty where every attempt came through and no drive was lost.
 * Blind: likelihoods are common practice, no source.
 */
export function checkSheet(facts: Facts): Answer {
  const judged = facts.once(judgedAttempts)
  const failed = judged.findLast((each) => each.firstFailed !== null)
  const passed = judged.findLast((each) => each.firstFailed === null && each.outcome.ready !== null)
  const stopped = failed && (!passed || failed.attempt.number > passed.attempt.number) ? failed : null
  const loss = facts.once(losses).find((each) => each.moving || each.driving) ?? null
  const lines = stopped
    ? linesFor(facts, stopped.firstFailed!, stopped, stopped.unseenBefore)
    : loss
      ? linesFor(facts, loss.events[0]!.step, loss.judged, loss.undecided, loss)
      : judged.length === 0 || judged.every((each) => each.reached === 'unknown')
        ? nothingSeen(facts)
        : []
  return { questions: [], findings: [], sections: { check_sheet: lines } }
}

/** More lines than this are no short list. */
const MOST = 10

function linesFor(
  facts: Facts,
  name: string,
  judged: JudgedAttempt,
  unseen: readonly string[],
  loss?: Loss,
): Line[] {
  const chain = facts.once(startChain)
  const failed = stepNamed(chain, name)
  const suspects: { step: StepDeclaration; weight: number }[] = []
  if (failed) suspects.push({ step: failed, weight: 4 })
  for (const each of unseen) {
    const step = stepNamed(chain, each)
    if (step) suspects.push({ step, weight: 1 })
  }
  const open = suspects
    .flatMap(({ step, weight }) =>
      step.checks.map((check) => ({
        check,
        value: weight / check.effort,
        known: answered(step, check, judged),
      })),
    )
    .sort(
      (a, b) =>
        Number(a.known !== null) - Number(b.known !== null) ||
        b.value - a.value ||
        a.check.effort - b.check.effort,
    )
  const lines: Line[] = open.slice(0, MOST - 3).map(({ check, known }) => lineOf(check, known))
  const known = judged.steps
    .filter(({ step, verdict }) => verdict.held === true && step.name !== name)
    .map(({ step, verdict }) => `${step.label}: ${verdict.why}`)
  if (known.length > 0)
    lines.push({
      what: 'Steps that the log shows to hold',
      instrument: 'this log',
      expect: 'nothing left to measure',
      tells: 'these are not the reason',
      cautions: [],
      known: known.join('; '),
    })
  const toLog = unseen.flatMap((each) => stepNamed(chain, each)?.channels.slice(0, 1) ?? [])
  if (toLog.length > 0) lines.push(logLine(toLog))
  if (loss)
    lines.unshift({
      what: 'Order of events at the loss',
      instrument: 'this log',
      expect: 'a cause before its effects',
      tells: `${loss.events.map(({ what }) => what).join(', then ')}${loss.undecided.length > 0 ? `; not decided by the log’s resolution: ${loss.undecided.join(', ')}` : ''}`,
      cautions: [],
      known: 'read from the log',
    })
  return lines
}

/** A check of the precharge that the link voltage has answered already. */
function answered(step: StepDeclaration, check: StepCheck, judged: JudgedAttempt): string | null {
  const run = judged.attempt.run
  if (step.name !== 'precharge' || !run?.reached) return null
  const resistor = check.what.startsWith('precharge resistor')
  if (resistor && run.reached.value > 20 && run.levelled)
    return `the link rose to ${run.reached.value.toFixed(0)} % and levelled off, so resistor, fuse and contactor conduct`
  if (!resistor && run.reached.value < 5 && run.steadyA !== null && !run.shorted)
    return 'no current flowed while the link stayed down: no load across the link explains it'
  return null
}

const lineOf = (check: StepCheck, known: string | null): Line => ({
  what: check.what,
  instrument: check.instrument,
  expect: check.expect,
  tells: check.tells,
  cautions: [...check.cautions],
  known,
})

const logLine = (channels: readonly string[]): Line => ({
  what: `Log next time: ${[...new Set(channels)].join(', ')}`,
  instrument: 'the logging box, from before the key is turned',
  expect: 'a sample every 0.1 s or faster',
  tells: 'shows the steps that this log cannot show',
  cautions: [],
  known: null,
})

function nothingSeen(facts: Facts): Line[] {
  const wanted = [
    'key_on',
    'contactor_negative',
    'contactor_precharge',
    'contactor_positive',
    'link_voltage',
    'pack_voltage',
    'drive_ready',
    'lv_voltage',
    'interlock_closed',
    'inertia_closed',
    'bms_state',
  ]
  const missing = wanted.filter((id) => !facts.drive.channels.has(id))
  if (missing.length === 0) return []
  return [{ ...logLine(missing), cautions: [DC_LINK] }]
}
