import type { ChannelId } from '../../../shared/channels.ts'
import type { Finding, Question } from '../../../shared/review.ts'
import { capital } from '../../../shared/wording.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { LOCAL_RULES } from '../../facts/cautions.ts'
import type { Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import type { HeldRun } from '../../math/held-runs.ts'
import { STOP_USE } from '../models/pedal-advice.ts'
import { IDLE_RETURN_S, type ReleasedTorque, releasedTorque } from '../models/released-torque.ts'
import { type JudgedRun, judgedRuns } from '../models/released-verdicts.ts'

const QUESTION = 'Does the motor drive the car with the accelerator released?'
const TO_LOG = 'log accelerator, torque and speed at 20 Hz or more'
/** Under so much time at rest nothing is claimed, s. */
const REST_LEAST_S = 3
/** Pedal or torque slower than this cannot clear: a foot comes and goes between two rows, s. Common practice, no source. */
const CLEARS_S = 1
const PROVE =
  'Do not drive the car before it is known what asked for this torque. Standing: log cruise control, creep or hill hold, brake, torque request and torque together, and say in the vehicle file whether the car has them.'
const KNOWN =
  'Nothing, if the driver used it then. Log its state as well (cruise or hold active): then it need not be worked out.'

/**
 * Does the motor drive the car with the accelerator released?
 *
 * Model:  released as `pedalReleased` says; driving torque over 5 N·m for longer than 0.3 s between the first and the
 *         last pedal sample that read released, three of them at least; torque falling within the idle-return time of
 *         1 s is the inverter letting go. `runaway` says what is a stop whatever explains it; cruise control, creep and
 *         hold that the log itself proves (`cruiseSpells`, `creepAndHold`) make a note; the rest is attention.
 * Reads:  accelerator tracks or position, torque [N·m], speed [km/h], motor_speed [rpm], the brake, gradient [%],
 *         cruise_active, hold_active.
 * Gives:  `torque-without-pedal` [N·m].
 * Biased by: the inverter's own error of torque (enters the interval).
 * Blind:  unsigned torque; rows so slow that a foot comes and goes between them; a track frozen at its released reading.
 * Source: Formula Student rules T11.8.12 (torque at most 0); FMVSS 124 S5.3 (memory); else common practice.
 */
export function torqueReleased(facts: Facts): Answer {
  const all = facts.once(releasedTorque)
  if ('why' in all) {
    const missing = missingChannels(facts)
    const why = missing.length > 0 ? `not logged: ${missing.join(', ')}` : all.why
    return { questions: [notAssessed('pedal', QUESTION, missing, why, TO_LOG, 'N·m')], findings: [] }
  }
  const judged = facts.once(judgedRuns)
  const worst = strongest(judged.filter((each) => each.severity !== 'note'))
  const known = strongest(judged.filter((each) => each.severity === 'note'))
  const findings = [worst, known].flatMap((each) => (each ? [toFinding(facts, all, each, judged)] : []))
  return { questions: [question(facts, all, findings)], findings }
}

function missingChannels(facts: Facts): ChannelId[] {
  const has = (id: ChannelId): boolean => facts.drive.channels.has(id)
  return [
    ...(has('pedal_position') || (has('pedal_track_1') && has('pedal_track_2'))
      ? []
      : (['pedal_position'] as const)),
    ...(has('torque') || has('torque_request') ? [] : (['torque'] as const)),
  ]
}

const RANK = { stop: 2, attention: 1, note: 0 } as const

function strongest(judged: readonly JudgedRun[]): JudgedRun | null {
  return judged.reduce<JudgedRun | null>(
    (best, each) =>
      !best ||
      RANK[each.severity] > RANK[best.severity] ||
      (each.severity === best.severity && each.heldNm > best.heldNm)
        ? each
        : best,
    null,
  )
}

function question(facts: Facts, all: ReleasedTorque, findings: readonly Finding[]): Question {
  const bar = facts.limits.releasedTorqueNm.stop ?? Number.NaN
  const seconds = facts.limits.releasedTorqueS.stop ?? Number.NaN
  const rest = `${all.releasedS.toFixed(0)} s with the accelerator released (${all.pedal.how})`
  if (findings.length === 0 && all.releasedS < REST_LEAST_S)
    return notAssessed(
      'pedal',
      QUESTION,
      [],
      'the accelerator was hardly ever released with torque logged',
      TO_LOG,
      'N·m',
    )
  if (findings.length === 0 && (all.sampleS > CLEARS_S || all.untimed > 0))
    return notAssessed(
      'pedal',
      QUESTION,
      [],
      `accelerator and torque come every ${all.sampleS.toFixed(1)} s: a foot comes and goes between two rows${all.untimed > 0 ? `, and torque over ${bar} N·m stood beside a released accelerator ${all.untimed} times too short to tell` : ''}`,
      TO_LOG,
      'N·m',
    )
  return assessed(
    'pedal',
    QUESTION,
    findings.length > 0,
    `${rest}; more than ${bar} N·m of drive torque for ${(seconds + 2 * all.sampleS).toFixed(2)} s would have shown${brakeSentence(all)}`,
    { value: bar * (1 + all.errorPercent / 100), unit: 'N·m' },
  )
}

const brakeSentence = (all: ReleasedTorque): string =>
  all.brake ? '' : '; no channel of the driver\u2019s brake is logged, so it is taken as not pressed'

function toFinding(
  facts: Facts,
  all: ReleasedTorque,
  each: JudgedRun,
  judged: readonly JudgedRun[],
): Finding {
  const { run, heldNm, severity, explained } = each
  const { timeS, kmh } = all.data
  const limit = facts.limits.releasedTorqueNm
  const from = timeS[run.first]!
  const to = timeS[run.last]!
  const alike = judged.filter((other) => other.severity === severity).length
  const times = alike > 1 ? ` It happened ${alike} times in this drive.` : ''
  const what = `From ${from.toFixed(1)} s on, for ${(to - from).toFixed(1)} s, the motor drove the car with ${nmRange(all, run, heldNm)} at ${speeds(kmh, run)} with the accelerator released`
  const rule = `the limit is ${limit.stop} N\u00b7m for more than ${facts.limits.releasedTorqueS.stop} s. Torque that was falling within ${IDLE_RETURN_S} s of the release is not counted`
  const headline =
    severity === 'note'
      ? `${capital(explained)} drove with up to ${heldNm.toFixed(0)} N\u00b7m while the accelerator was released`
      : `The motor drives with ${heldNm.toFixed(0)} N\u00b7m while the accelerator is released`
  const reason =
    severity === 'note'
      ? `${what}; the log itself shows why: ${each.why}.`
      : severity === 'stop'
        ? `${what}; ${each.why}. ${capital(rule)}.`
        : `${what}; ${rule}. Cruise control, creep or hill hold would do so, and this log proves none of them${each.why ? ` (${each.why})` : ''}.`
  return finding({
    kind: 'torque-without-pedal',
    subject: { type: 'pedal' },
    span_s: [from, to],
    value: heldNm,
    unit: 'N·m',
    plusMinus: (heldNm * all.errorPercent) / 100,
    limit,
    severity,
    headline,
    reason: `${reason}${times}${all.brake ? '' : ' No channel of the driver\u2019s brake is logged, so it is taken as not pressed.'}`,
    next_step: severity === 'stop' ? STOP_USE : severity === 'note' ? KNOWN : PROVE,
    cautions: [LOCAL_RULES],
    channels: [
      ...new Set([...all.pedal.channels, ...all.data.channels.filter((id) => !id.startsWith('pedal'))]),
      ...(['speed', 'brake_pressure', 'brake_switch', 'cruise_active', 'hold_active'] as const).filter((id) =>
        facts.drive.channels.has(id),
      ),
    ],
  })
}

function nmRange(all: ReleasedTorque, run: HeldRun, heldNm: number): string {
  const most = all.data.driveNm.subarray(run.first, run.last + 1).reduce((a, b) => Math.max(a, b), 0)
  return most - heldNm < 1 ? `${heldNm.toFixed(1)} N\u00b7m` : `up to ${most.toFixed(1)} N\u00b7m`
}

function speeds(kmh: Float64Array, run: HeldRun): string {
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (let i = run.first; i <= run.last; i++) {
    low = Math.min(low, kmh[i]!)
    high = Math.max(high, kmh[i]!)
  }
  if (!Number.isFinite(low + high)) return 'a speed not logged'
  return high - low < 1 ? `${high.toFixed(0)} km/h` : `${low.toFixed(0)} to ${high.toFixed(0)} km/h`
}
