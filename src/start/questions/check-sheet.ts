import type { Review } from '../../../shared/review.ts'
import type { Answer } from '../../facts/answer.ts'
import { DC_LINK } from '../../facts/cautions.ts'
import { type Facts, unlogged } from '../../facts/facts.ts'
import { checksOfFailure, checksOfLoss, type RankedCheck, wrongText } from '../models/open-checks.ts'
import { inFault } from '../models/reported-faults.ts'
import { stepNamed } from '../models/start-chain-order.ts'
import { failureAtEnd } from '../models/start-failure.ts'
import { type Loss, lossToTell } from '../models/start-losses.ts'
import { type JudgedAttempt, judgedAttempts, startChain } from '../models/start-verdicts.ts'

type Line = Review['check_sheet'][number]

/**
 * What to look at, in which order, when a start failed or drive was lost.
 *
 * Model: suspects are the first failed step and the steps before it that the log cannot show; their checks stand in
 *   the order of `models/open-checks.ts`, so that the first open row is the step that the finding tells. What the log
 *   already answers is on the sheet with the answer in `known`: crossed off, not to be done again.
 * Reads: `starts[]`, the losses of drive, and what the log says of each step.
 * Gives: `check_sheet`, empty where every attempt came through and no drive was lost.
 * Biased by: effort as a workshop of the usual kind has it.
 * Blind: a cause that no check of the list would meet.
 * Source: likelihoods and effort: common practice, no source.
 */
export function checkSheet(facts: Facts): Answer {
  const stopped = failureAtEnd(facts)
  const loss = lossToTell(facts)
  const judged = facts.once(judgedAttempts)
  const lines = stopped
    ? linesFor(
        facts,
        stopped.name,
        stopped.shown,
        stopped.shown.unseenBefore,
        checksOfFailure(facts, stopped),
      )
    : loss
      ? linesFor(facts, loss.events[0]!.step, loss.judged, loss.undecided, checksOfLoss(facts, loss), loss)
      : judged.every((each) => each.reached === 'unknown' || each.attempt.asked === null)
        ? nothingSeen(facts)
        : []
  return { questions: [], findings: [], sections: { check_sheet: lines } }
}

/** A unit that answers to a failed start with a fault does so within this long, s. Common practice, no source. */
const ANSWERS_S = 1
/** More lines than this are no short list. */
const MOST = 10

function linesFor(
  facts: Facts,
  name: string,
  judged: JudgedAttempt,
  unseen: readonly string[],
  checks: readonly RankedCheck[],
  loss?: Loss,
): Line[] {
  const chain = facts.once(startChain)
  const lines: Line[] = checks.slice(0, MOST - 3).map(lineOf)
  const { endS } = judged.attempt
  const unitFaulted = [endS, endS + ANSWERS_S].some((atS) => inFault(facts, 'bms', atS))
  const known = judged.steps
    .filter(
      ({ step, verdict }) =>
        verdict.held === true && step.name !== name && !(step.name === 'battery' && unitFaulted),
    )
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

const lineOf = ({ check, known, wrong }: RankedCheck): Line => ({
  what: wrong ? `Put right: ${wrongText(check, wrong)}` : check.what,
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
  const missing = unlogged(facts, [
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
  ])
  if (missing.length === 0) return []
  return [{ ...logLine(missing), cautions: [DC_LINK] }]
}
