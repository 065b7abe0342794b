import type { ChannelId } from '../../../shared/channels.ts'
import type { Finding, Question } from '../../../shared/review.ts'
import { motorTorque } from '../../car/regen-torque.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { LOCAL_RULES } from '../../facts/cautions.ts'
import { type Facts, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { heldPeak, runsAbove } from '../../math/held-runs.ts'
import { brakeOverride } from '../models/brake-override.ts'
import { STOP_USE } from '../models/pedal-advice.ts'
import { brakeAppliedAt, type PedalAndTorque, pedalAndTorque } from '../models/pedal-release.ts'
import { IDLE_RETURN_S } from '../models/released-torque.ts'

/** A motor that turns, either way; no source. */
const TURNS_RPM = 20
/** Less torque is drag; no source. */
const DROVE_NM = 10
const AGAINST = 'Does the motor drive against the selector?'
const BOTH = 'Was the accelerator pressed together with the brake?'
/**
 * Does torque follow the foot?
 *
 * Model:  against the selector: torque in neutral, or driving the other way, for longer than 0.3 s. Pedal with brake:
 *         travel over 25 % with the brake applied. (With the pedal released: `torqueReleased`.)
 * Reads:  accelerator [%], torque [N·m], speed [km/h], motor_speed [rpm], selector, brake input.
 * Gives:  `torque-against-selector` [N·m, always stop], `pedal-with-brake` [s].
 * Biased by: offset of the torque estimate at rest; a brake switch that closes late.
 * Blind:  unsigned torque (drive and regeneration look alike); reverse in logs that never sign the motor's speed.
 * Source: Formula Student rules T11.8.12; FSAE rules EV.4.7.1; Formula Student rules EV2.3.1; FMVSS 124 S5.3 (memory).
 */
export function pedalTorque(facts: Facts): Answer {
  const data = facts.once(pedalAndTorque)
  const has = (id: ChannelId): boolean => facts.drive.channels.has(id)
  const missing = [
    ...(has('pedal_position') || (has('pedal_track_1') && has('pedal_track_2'))
      ? []
      : (['pedal_position'] as const)),
    ...(has('torque') || has('torque_request') ? [] : (['torque'] as const)),
  ]
  const answers = [against(facts, data, missing), withBrake(facts)]
  return {
    questions: answers.map((each) => each.question),
    findings: answers.flatMap((each) => (each.finding ? [each.finding] : [])),
  }
}

interface One {
  readonly question: Question
  readonly finding: Finding | null
}

function against(facts: Facts, data: PedalAndTorque | null, missing: readonly ChannelId[]): One {
  const noSelector = facts.drive.channels.has('selector') ? [] : (['selector'] as const)
  const log = 'log selector, torque and motor speed'
  if (!data || noSelector.length > 0 || !data.signedTorque)
    return {
      question: notAssessed(
        'pedal',
        AGAINST,
        [...missing, ...noSelector],
        data && !data.signedTorque
          ? 'torque is logged without sign'
          : `not logged: ${[...missing, ...noSelector].join(', ') || 'accelerator or torque in a form that can be read'}`,
        log,
        'N·m',
      ),
      finding: null,
    }
  const limit = facts.limits.releasedTorqueNm
  const bar = limit.stop ?? Number.NaN
  const wrong = data.timeS.map((_, i) => torqueAgainst(data, i))
  afterShift(data, wrong)
  const held = heldPeak(data.timeS, wrong, facts.limits.releasedTorqueS.stop ?? Number.NaN)
  if (!held)
    return {
      question: notAssessed('pedal', AGAINST, [], 'selector and torque hold no common stretch', log, 'N·m'),
      finding: null,
    }
  const found = held.value > bar
  const selected = data.selector[held.first]!
  const name = selected === 0 ? 'neutral' : selected > 0 ? 'forward' : 'reverse'
  const reverse = data.signedSpeed
    ? ''
    : '; this log never shows the motor turning backwards, so reverse is judged in neutral only'
  return {
    question: assessed(
      'pedal',
      AGAINST,
      found,
      `most torque against the selector ${held.value.toFixed(1)} N·m, limit ${bar}${reverse}`,
      { value: bar * 1.1, unit: 'N·m' },
    ),
    finding: found
      ? finding({
          kind: 'torque-against-selector',
          subject: { type: 'selector', name },
          span_s: [data.timeS[held.first]!, data.timeS[held.last]!],
          value: held.value,
          unit: 'N·m',
          plusMinus: (held.value * (facts.once(motorTorque)?.errorPercent ?? 8)) / 100,
          limit,
          severity: 'stop',
          headline: `The motor gives ${held.value.toFixed(0)} N·m against the selector (${name})`,
          reason: `At ${data.timeS[held.first]!.toFixed(1)} s the selector stood in ${name} and the motor ${selected === 0 ? 'turned out' : 'drove the other way with'} ${held.value.toFixed(1)} N·m for more than ${facts.limits.releasedTorqueS.stop} s.`,
          next_step: STOP_USE,
          cautions: [LOCAL_RULES],
          channels: ['selector', ...data.channels],
        })
      : null,
  }
}

/** Torque that drives against the selected direction; torque that only slows the car is none. */
function torqueAgainst(data: PedalAndTorque, i: number): number {
  const selected = data.selector[i]!
  const nm = data.motorNm[i]!
  const rpm = data.rpm[i]!
  if (Number.isNaN(selected) || Number.isNaN(nm)) return Number.NaN
  if (selected === 0) return Math.abs(nm)
  if (selected > 0) return nm < 0 && rpm < -TURNS_RPM ? -nm : 0
  return data.signedSpeed && nm > 0 && rpm > TURNS_RPM ? nm : 0
}

/** The inverter may let go of torque for the idle-return time after the selector moves. */
function afterShift(data: PedalAndTorque, wrong: Float64Array): void {
  let shifted = Number.NEGATIVE_INFINITY
  for (let i = 1; i < wrong.length; i++) {
    if (data.selector[i] !== data.selector[i - 1] && Number.isFinite(data.selector[i]!))
      shifted = data.timeS[i]!
    if (data.timeS[i]! - shifted < IDLE_RETURN_S && wrong[i]! <= (wrong[i - 1]! || Number.POSITIVE_INFINITY))
      wrong[i] = 0
  }
}

function withBrake(facts: Facts): One {
  const data = facts.once(pedalAndTorque)
  const applied = data ? brakeAppliedAt(facts, data.timeS) : null
  if (!data || !applied) {
    const missing = unlogged(facts, [
      ...(data ? [] : (['pedal_position', 'torque'] as const)),
      ...(applied ? [] : (['brake_switch'] as const)),
    ])
    return {
      question: notAssessed(
        'pedal',
        BOTH,
        missing,
        `not logged: ${missing.join(', ') || 'brake or accelerator in a form that can be read'}`,
        'log accelerator and brake pressure or switch',
        's',
      ),
      finding: null,
    }
  }
  const percent = facts.limits.pedalWithBrakePercent
  const travel = percent.attention ?? Number.NaN
  const seconds = (facts.limits.pedalWithBrakeMs.attention ?? Number.NaN) / 1000
  const slow = facts.limits.pedalWithBrakeKmh.attention ?? Number.NaN
  const both = data.timeS.map((_, i) => (applied[i] === 1 && data.percent[i]! > travel ? 1 : 0))
  const runs = runsAbove(data.timeS, both, 0.5)
  const moving = runs.filter((run) => {
    for (let i = run.first; i <= run.last; i++) if (data.kmh[i]! > slow) return true
    return false
  })
  const sampleS = (data.timeS[data.timeS.length - 1]! - data.timeS[0]!) / Math.max(1, data.timeS.length - 1)
  const worst = longest(moving)
  const hill = longest(runs.filter((run) => !moving.includes(run)))
  const found = worst !== null && worst.atLeastS > seconds + 1e-9
  const shown = found ? worst : hill && hill.atLeastS > seconds ? hill : null
  return {
    question: assessed(
      'pedal',
      BOTH,
      found,
      found || shown
        ? `longest time with travel over ${travel} % and the brake applied ${shown!.atLeastS.toFixed(2)} s${found ? '' : ', at walking pace as in a hill start'}`
        : `never over ${travel} % of travel with the brake applied for more than ${seconds} s`,
      { value: seconds + 2 * sampleS, unit: 's' },
    ),
    finding: shown
      ? withBrakeFinding(facts, data, shown, found, sampleS, mostDriving(data, applied, travel))
      : null,
  }
}

/** The most that the motor drove with while brake and accelerator were both pressed, N·m. */
function mostDriving(data: PedalAndTorque, applied: ArrayLike<number>, travel: number): number {
  const cut = brakeOverride(applied, data.percent, travel)
  return data.timeS.reduce(
    (most, _, i) => (cut[i] === 1 && data.driveNm[i]! > most ? data.driveNm[i]! : most),
    0,
  )
}

function withBrakeFinding(
  { limits }: Facts,
  data: PedalAndTorque,
  shown: ReturnType<typeof runsAbove>[number],
  moving: boolean,
  sampleS: number,
  wentNm: number,
): Finding {
  const travel = limits.pedalWithBrakePercent.attention ?? Number.NaN
  const fromS = data.timeS[shown.first]!
  const pressed = `Accelerator over ${travel} % with the brake applied for ${shown.atLeastS.toFixed(1)} s`
  const drove =
    wentNm > DROVE_NM
      ? `, and the motor drove with up to ${wentNm.toFixed(0)} N·m (the rule cuts torque until travel is under 5 %)`
      : ''
  return finding({
    kind: 'pedal-with-brake',
    subject: { type: 'pedal' },
    span_s: [fromS, data.timeS[shown.last]!],
    value: shown.atLeastS,
    unit: 's',
    low: shown.atLeastS,
    high: Math.min(shown.atMostS, shown.atLeastS + 2 * sampleS),
    limit: {
      attention: (limits.pedalWithBrakeMs.attention ?? Number.NaN) / 1000,
      stop: null,
      unit: 's',
      source: `${limits.pedalWithBrakeMs.source}; ${limits.pedalWithBrakePercent.source}`,
    },
    severity: moving ? 'attention' : 'note',
    headline: moving ? `${pressed} while the car moved` : `${pressed} at walking pace`,
    reason: moving
      ? `From ${fromS.toFixed(1)} s on both pedals were pressed above ${limits.pedalWithBrakeKmh.attention ?? Number.NaN} km/h${drove}. Either the driver did so, or the brake signal hangs, or the accelerator does not return.`
      : 'Below 5 km/h this is how a hill start is driven.',
    next_step:
      'Ask the driver; then check that the brake light goes out when the pedal is let go and that the accelerator returns by itself from every position.',
    cautions: [LOCAL_RULES],
    channels: data.channels,
  })
}

const longest = <T extends { atLeastS: number }>(runs: readonly T[]): T | null =>
  runs.reduce<T | null>((worst, run) => (!worst || run.atLeastS > worst.atLeastS ? run : worst), null)
