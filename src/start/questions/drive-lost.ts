import type { Finding, Severity } from '../../../shared/review.ts'
import { motionChannel } from '../../drive/motion.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { DC_LINK } from '../../facts/cautions.ts'
import { type Facts, logged, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { checksOfLoss, firstOpen } from '../models/open-checks.ts'
import { stepNamed } from '../models/start-chain-order.ts'
import { LINK_LEFT, type Loss, losses } from '../models/start-losses.ts'
import { startSignals } from '../models/start-signals.ts'
import { judgedAttempts, startChain } from '../models/start-verdicts.ts'

/**
 * Was drive lost while the car was in use, and what changed first?
 *
 * Model: every fall of drive ready or opening of a main contactor after drive ready; changes for the worse around it
 *   are put in order by the samples that bracket each; what the brackets leave open is said, and there causes are
 *   named before their effects.
 * Reads: key, loops, plug, contactors, states, fault words, 12 V, drive ready; speed [km/h].
 * Gives: `drive-lost` [km/h], named by the step that changed first.
 * Biased by: logs on different clocks: their offset’s uncertainty can turn an order round.
 * Blind: a cause that is not logged: then the first effect is named. A key turned off at standstill is no loss.
 * Source: common practice, no source.
 */
export function driveLost(facts: Facts): Answer {
  const signals = facts.once(startSignals)
  const watched = facts.once(judgedAttempts).filter((each) => each.outcome.ready !== null)
  const question = 'Was drive lost with the key on?'
  const { channels } = facts.drive
  const linkShows = channels.has('link_voltage') && channels.has('pack_current')
  const shown = signals.ready ?? signals.positive ?? signals.negative ?? signals.inverter
  if (watched.length === 0 || (!shown && !(linkShows && facts.once(losses).length > 0))) {
    const missing = unlogged(facts, ['drive_ready', 'contactor_positive', 'key_on'])
    const why =
      watched.length === 0
        ? 'the car is not seen ready in this log'
        : 'no channel shows drive ready or the contactors'
    return {
      questions: [notAssessed('start', question, missing, why, 'Log drive ready, contactors and key.')],
      findings: [],
    }
  }
  const findings = facts.once(losses).map((loss) => lossFinding(facts, loss))
  if (findings.length === 0 && !motionChannel(facts.drive.channels))
    return {
      questions: [
        notAssessed(
          'start',
          question,
          ['speed', 'motor_speed'],
          'nothing in the log shows whether the car moved',
          'Log road speed or motor speed.',
        ),
      ],
      findings: [],
    }
  const periods = [signals.ready, signals.positive]
    .map((track) => track?.periodS ?? Number.NaN)
    .filter(Number.isFinite)
  return {
    questions: [
      assessed(
        'start',
        question,
        findings.length > 0,
        `${watched.length === 1 ? 'one drive' : `${watched.length} drives`} watched from drive ready to its end`,
        {
          value: periods.length > 0 ? Math.max(...periods) : null,
          unit: 's',
        },
      ),
    ],
    findings,
  }
}

function lossFinding(facts: Facts, loss: Loss): Finding {
  const first = loss.events[0]!
  const step = stepNamed(facts.once(startChain), first.step)
  const label = first.what === LINK_LEFT ? LINK_LEFT : (step?.label ?? first.step)
  const order = loss.events
    .map(({ what, change }) => `${what} (${bracket(change.earliestS, change.atS)})`)
    .join(', then ')
  const seenCause = !['ready', 'positive', 'negative'].includes(first.step)
  const speed = Number.isFinite(loss.speedKmh) ? loss.speedKmh : null
  return finding({
    kind: 'drive-lost',
    subject: { type: 'start-step', name: first.step },
    span_s: [loss.atS, Math.max(loss.atS, loss.judged.attempt.endS)],
    onset_s: loss.atS,
    value: speed,
    unit: 'km/h',
    plusMinus: speed === null ? null : loss.speedPlusMinusKmh,
    limit: null,
    severity: severityOf(loss, seenCause),
    headline:
      `Drive was lost ${speed === null ? (loss.moving ? 'while moving' : '') : loss.moving ? `at ${speed.toFixed(0)} km/h` : 'at standstill'}: ${first.what === LINK_LEFT ? label : `${label} changed first`}`.replace(
        'lost :',
        'lost:',
      ),
    reason: `In the order of the log: ${order}.${
      loss.undecided.length > 0
        ? ` The log’s resolution does not decide whether ${loss.undecided.join(', ')} changed before ${first.step}.`
        : ''
    }${silence(facts, loss.atS)}${loss.recovered ? ' Drive came back in the same attempt.' : ''}${seenCause ? '' : ' What made it change is not in this log.'}`,
    next_step: firstOpen(checksOfLoss(facts, loss)) ?? `Look at what the vehicle file calls “${first.step}”.`,
    cautions: [...new Set([DC_LINK, ...(step?.checks.flatMap((check) => check.cautions) ?? [])])],
    channels: logged(facts, [
      ...new Set([
        'speed',
        ...loss.events.flatMap(({ step: name }) => stepNamed(facts.once(startChain), name)?.channels ?? []),
      ]),
    ]),
    evidence_s: [loss.atS - 2, loss.atS + 2],
  })
}

/** What the driver ends by hand is no stop (the contract); opening under load has a finding of its own. */
const BY_HAND = new Set(['key', 'selector'])

function severityOf(loss: Loss, seenCause: boolean): Severity {
  if (loss.moving) return BY_HAND.has(loss.events[0]!.step) ? 'attention' : 'stop'
  return loss.driving || seenCause ? 'attention' : 'note'
}

/** Nodes of the bus that fell silent around the loss, first ones first. */
function silence(facts: Facts, atS: number): string {
  const silent = facts.drive.buses
    .flatMap((bus) => bus.nodes)
    .filter(({ silent_span_s: span }) => span !== null && span[0] > atS - 5 && span[0] < atS + 2)
    .sort((a, b) => a.silent_span_s![0] - b.silent_span_s![0])
    .map(({ name, silent_span_s: span }) => `${name} from ${span![0].toFixed(2)} s`)
  return silent.length > 0 ? ` Fell silent on the bus: ${silent.join(', ')}.` : ''
}

const bracket = (earliestS: number, atS: number): string =>
  atS - earliestS < 0.0005
    ? `at ${atS.toFixed(2)} s`
    : `between ${earliestS.toFixed(2)} and ${atS.toFixed(2)} s`
