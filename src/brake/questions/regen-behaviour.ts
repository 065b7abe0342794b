import type { Finding, Question } from '../../../shared/review.ts'
import { brakeTrace } from '../../car/brake-trace.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { BRAKE_CHANGE } from '../../facts/cautions.ts'
import { toDrive } from '../../facts/drive-advice.ts'
import { type Facts, logged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { regenDelay } from '../models/regen-delay.ts'
import { LEAST_BRAKING_S, regenLimited } from '../models/regen-limited.ts'
import { regenMap } from '../models/regen-map.ts'
import { regenStep } from '../models/regen-step.ts'
import { STEP_SLOWEST_S } from '../models/torque-jumps.ts'
import { deadBand } from './regeneration.ts'

const LIMITED = 'How much of the braking was regeneration held back by a limit?'
const STEP = 'Does regeneration jump while the driver\u2019s press does not?'
const LAG = 'Does regeneration follow the brake without delay?'
/** Delay that a driver cannot work with, s. Common practice, no source. */
const LAG_S = 0.5

/**
 * Does regeneration do what its map says, smoothly and at once?
 *
 * Model:  limited: torque short of the fitted map, or the charge current at its limit (`regenLimited`); step: change of
 *         torque beyond what the press explains (`regenStep`); lag: delay of torque behind the press (`regenDelay`).
 * Reads:  brake input, torque_request and torque [N·m], speed [km/h], charge_limit [A], temperatures, slip control.
 * Gives:  `regen-limited` [% of braking time], `regen-step` [N·m], `regen-lag` [s].
 * Biased by: a brake input read later than the torque that follows it (fitted first, see `regenDelay`).
 * Blind:  a limit that held the whole drive looks like the map itself, unless the charge current stood at its limit;
 *         jumps in logs slower than 10 Hz; delays in logs slower than 5 Hz.
 * Source: limits: common practice, no source.
 */
export function regenBehaviour(facts: Facts): Answer {
  const trace = facts.once(brakeTrace)
  const fit = facts.once(regenMap)
  if (!trace || !fit) {
    const why = 'no regeneration map could be read from this drive'
    const log = 'log brake pressure, torque and speed at 20 Hz or more'
    return {
      questions: [LIMITED, STEP, LAG].map((each) => notAssessed('brake', each, [], why, log)),
      findings: [],
    }
  }
  const parts = [limited(facts), step(facts), lag(facts)]
  return {
    questions: parts.map((part) => part.question),
    findings: parts.flatMap((part) => (part.finding ? [part.finding] : [])),
  }
}

interface Part {
  readonly question: Question
  readonly finding: Finding | null
}

function limited(facts: Facts): Part {
  const trace = facts.once(brakeTrace)!
  const found = facts.once(regenLimited)
  if (!found || found.brakingS < LEAST_BRAKING_S)
    return {
      question: notAssessed(
        'brake',
        LIMITED,
        [],
        'too little braking with regeneration',
        toDrive('brake a few times from 50 km/h', 'after five stops'),
        '%',
      ),
      finding: null,
    }
  const limit = facts.limits.regenLimitedPercent
  const past = found.sharePercent > (limit.attention ?? Number.POSITIVE_INFINITY)
  const causes = found.causes.map(
    (each) =>
      `${each.cause} ${each.timeS.toFixed(1)} s${each.lostWh === null ? '' : ` (${each.lostWh.toFixed(1)} Wh)`}`,
  )
  const firstSpan = found.spans[0]
  return {
    question: assessed(
      'brake',
      LIMITED,
      past,
      `${found.limitedS.toFixed(1)} of ${found.brakingS.toFixed(1)} s of braking limited${causes.length > 0 ? `: ${causes.join(', ')}` : ''}`,
      { value: limit.attention, unit: '% of braking time' },
    ),
    finding:
      past && firstSpan
        ? finding({
            kind: 'regen-limited',
            subject: { type: 'brake', name: found.causes[0]!.cause },
            span_s: [firstSpan[0], found.spans[found.spans.length - 1]![1]],
            value: found.sharePercent,
            unit: '%',
            plusMinus: found.sharePlusMinus,
            limit,
            headline: `Regeneration was held back for ${found.sharePercent.toFixed(0)} % of the braking: ${found.causes[0]!.cause}`,
            reason: `Of ${found.brakingS.toFixed(0)} s of braking the motor gave less than its map asks for during ${found.limitedS.toFixed(1)} s: ${causes.join(', ')}. The pedal then feels different from one stop to the next.`,
            next_step:
              'Look at the limit named here beside state of charge and cell temperature; keep the map\u2019s ceiling under it so that the press always brakes alike. Do not raise the limit.',
            cautions: [BRAKE_CHANGE],
            channels: logged(facts, [...trace.channels, 'charge_limit', 'pack_current']),
          })
        : null,
  }
}

function step(facts: Facts): Part {
  const trace = facts.once(brakeTrace)!
  const found = facts.once(regenStep)
  if (!found)
    return {
      question: notAssessed(
        'brake',
        STEP,
        [],
        `the log reads every ${(trace.periodS * 1000).toFixed(0)} ms; a jump cannot be told from a ramp over ${(STEP_SLOWEST_S * 1000).toFixed(0)} ms`,
        'log brake and torque at 20 Hz or more',
        'N·m',
      ),
      finding: null,
    }
  const limit = facts.limits.regenStepNm
  const begins = withDeadBand(facts, found.press)
  const past = found.jumpNm > (limit.attention ?? Number.POSITIVE_INFINITY) && !begins
  const window = (found.windowS * 1000).toFixed(0)
  return {
    question: assessed(
      'brake',
      STEP,
      past,
      `largest change within ${window} ms that the press does not explain ${found.jumpNm.toFixed(1)} N·m, limit ${limit.attention}${begins ? '; it stands where regeneration begins too late, which is said there' : ''}`,
      {
        value: (limit.attention ?? 0) + found.plusMinusNm,
        unit: 'N·m',
      },
    ),
    finding: past
      ? finding({
          kind: 'regen-step',
          subject: { type: 'brake' },
          span_s: [found.atS - found.windowS, found.atS + found.windowS],
          value: found.jumpNm,
          unit: 'N·m',
          plusMinus: found.plusMinusNm,
          limit,
          headline: `Regeneration jumps by ${found.jumpNm.toFixed(0)} N·m within ${window} ms`,
          reason: `At ${found.atS.toFixed(1)} s (${found.kmh.toFixed(0)} km/h, ${found.press.toFixed(1)} ${trace.input === 'pressure' ? 'bar' : ''}) the torque changed by ${found.jumpNm.toFixed(1)} N·m more than the driver\u2019s press explains${found.times > 1 ? `, and ${found.times} times in this drive` : ''}. The car jerks, and a driven axle on a wet road may slip.`,
          next_step:
            'Look in the controller for a step in the map at this pressure and speed: a start above zero torque, a cut-out speed without fade, or a limit that switches.',
          cautions: [BRAKE_CHANGE],
          channels: logged(facts, [...trace.channels, 'torque_request']),
        })
      : null,
  }
}

/** Does the jump stand where a late start is accused already? Then the start is the cause of both. */
function withDeadBand(facts: Facts, press: number): boolean {
  const start = facts.once(regenMap)?.start
  return (
    start !== null &&
    start !== undefined &&
    Math.abs(press - start.value) < SAME_PRESS &&
    deadBand(facts) !== null
  )
}

/** A jump and a start nearer to each other than this are one, bar. */
const SAME_PRESS = 1.5

function lag(facts: Facts): Part {
  const trace = facts.once(brakeTrace)!
  const found = facts.once(regenDelay)
  if (!found)
    return {
      question: notAssessed(
        'brake',
        LAG,
        [],
        `the log reads the brake every ${(trace.periodS * 1000).toFixed(0)} ms, or only a switch`,
        'log brake and torque at 10 Hz or more',
        's',
      ),
      finding: null,
    }
  const outlasts = found.outlastsS ?? 0
  const onset = found.delayS - found.plusMinusS > LAG_S
  const past = onset || outlasts - 2 * trace.periodS > LAG_S
  const value = onset ? found.delayS : outlasts
  const late =
    outlasts > 0 ? `; regeneration outlasted a released press by ${outlasts.toFixed(2)} s at most` : ''
  const first = trace.applications[0]!
  const last = trace.applications[trace.applications.length - 1]!
  return {
    question: assessed(
      'brake',
      LAG,
      past,
      `torque follows the brake after ${(found.delayS * 1000).toFixed(0)} ± ${(found.plusMinusS * 1000).toFixed(0)} ms${late}`,
      {
        value: LAG_S + found.plusMinusS,
        unit: 's',
      },
    ),
    finding: past
      ? finding({
          kind: 'regen-lag',
          subject: { type: 'brake' },
          span_s: onset
            ? [first[0], last[1]]
            : [found.outlastsAtS ?? first[0], (found.outlastsAtS ?? first[0]) + outlasts],
          value,
          unit: 's',
          plusMinus: Math.max(found.plusMinusS, 2 * trace.periodS),
          limit: { attention: LAG_S, stop: null, unit: 's', source: 'common practice, no source' },
          headline: onset
            ? `Regeneration follows the brake only after ${value.toFixed(2)} s`
            : `Regeneration goes on for ${value.toFixed(2)} s after the brake is released`,
          reason: `Delay between brake signal and motor torque ${found.delayS.toFixed(2)} ± ${found.plusMinusS.toFixed(2)} s${late}.`,
          next_step:
            'Look for a filter or ramp on the brake input or on the torque request, and for a slow sensor.',
          cautions: [BRAKE_CHANGE],
          channels: trace.channels,
        })
      : null,
  }
}
