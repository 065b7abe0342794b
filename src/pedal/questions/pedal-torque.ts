import type { Finding, Question } from '../../../shared/review.ts'
import { motorTorque } from '../../car/regen-torque.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { LOCAL_RULES } from '../../facts/cautions.ts'
import type { Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { heldPeak, runsAbove } from '../../math/held-runs.ts'
import { samplePeriod } from '../../samples/on-one-clock.ts'
import { brakeOverride } from '../models/brake-override.ts'
import {
  brakeAppliedAt,
  type PedalAndTorque,
  pedalAndTorque,
  torqueAfterRelease,
} from '../models/pedal-release.ts'

const RELEASED = 'Does the motor drive the car with the accelerator released?'
const AGAINST = 'Does the motor drive against the selector?'
const BOTH = 'Was the accelerator pressed together with the brake?'
/** Idle-return time, s: US FMVSS 124 (49 CFR 571.124) S5.3, from memory. */
const IDLE_RETURN_S = 1
const STOP_USE =
  'Do not drive the car. With the driven wheels off the ground and a second person at the emergency switch, find out what asks for the torque: log pedal, torque request and torque together.'

/**
 * Does torque follow the foot?
 *
 * Model:  drive torque (in the direction of travel) held for longer than 0.3 s with travel under 1 %; torque that is
 *         falling within the idle-return time of 1 s after release is the inverter letting go and does not count;
 *         `creep_max_nm` of the vehicle file is allowed under 15 km/h. Against the selector: torque in neutral, or
 *         driving the other way. Pedal with brake: travel over 25 % with the brake applied.
 * Reads:  accelerator [%], torque [N·m], speed [km/h], motor_speed [rpm], selector, brake input.
 * Gives:  `torque-without-pedal`, `torque-against-selector` [N·m, always stop], `pedal-with-brake` [s].
 * Blind:  unsigned torque (drive and regeneration look alike); reverse in logs that never sign the motor's speed.
 * Source: Formula Student rules T11.8.12; FSAE rules EV.4.7.1; Formula Student rules EV2.3.1; FMVSS 124 S5.3 (memory).
 */
export function pedalTorque(facts: Facts): Answer {
  const data = facts.once(pedalAndTorque)
  const has = (id: string): boolean => facts.drive.channels.has(id)
  const missing = [
    ...(has('pedal_position') || (has('pedal_track_1') && has('pedal_track_2')) ? [] : ['pedal_position']),
    ...(has('torque') || has('torque_request') ? [] : ['torque']),
  ]
  const answers = [released(facts, data, missing), against(facts, data, missing), withBrake(facts)]
  return {
    questions: answers.map((each) => each.question),
    findings: answers.flatMap((each) => (each.finding ? [each.finding] : [])),
  }
}

interface One {
  readonly question: Question
  readonly finding: Finding | null
}

function released(facts: Facts, data: PedalAndTorque | null, missing: readonly string[]): One {
  const log = 'log accelerator, torque and speed at 20 Hz or more'
  if (!data)
    return {
      question: notAssessed(
        'pedal',
        RELEASED,
        missing,
        missing.length > 0 ? `not logged: ${missing.join(', ')}` : 'accelerator or torque cannot be read',
        log,
        'N·m',
      ),
      finding: null,
    }
  if (!data.signedTorque)
    return {
      question: notAssessed(
        'pedal',
        RELEASED,
        [],
        'torque is logged without sign, so drive and regeneration look alike',
        'log torque with its sign',
        'N·m',
      ),
      finding: null,
    }
  const limit = facts.limits.releasedTorqueNm
  const seconds = facts.limits.releasedTorqueS.stop ?? Number.NaN
  const travel = (facts.limits.releasedTravelPercent.stop ?? Number.NaN) + 2 * data.noisePercent
  const creep = facts.vehicle.pedal?.creep_max_nm ?? 0
  const counted = torqueAfterRelease(data, travel, creep, IDLE_RETURN_S)
  const held = heldPeak(data.timeS, counted, seconds)
  const error = (facts.once(motorTorque)?.errorPercent ?? 8) / 100
  const restS = data.timeS.reduce(
    (sum, at, i) =>
      sum +
      (i > 0 && data.percent[i]! < data.restPercent + travel ? Math.min(at - data.timeS[i - 1]!, 1) : 0),
    0,
  )
  const sampleS = samplePeriod(data.timeS)
  if (!held || restS < 3)
    return {
      question: notAssessed(
        'pedal',
        RELEASED,
        [],
        'the accelerator was hardly ever at rest with torque logged',
        log,
        'N·m',
      ),
      finding: null,
    }
  const bar = limit.stop ?? Number.NaN
  const found = held.value > bar
  const run = found
    ? runsAbove(data.timeS, counted, bar).find((each) => each.first <= held.first && each.last >= held.last)
    : undefined
  const from = data.timeS[run?.first ?? held.first]!
  const to = data.timeS[run?.last ?? held.last]!
  const kmh = data.kmh[held.first]!
  const braking = brakeAppliedAt(facts, data.timeS)?.[held.first] === 1
  return {
    question: assessed(
      'pedal',
      RELEASED,
      found,
      `${restS.toFixed(0)} s with the accelerator at rest; most drive torque held then ${held.value.toFixed(1)} N·m, limit ${bar}${creep > 0 ? ` above ${creep} N·m of creep` : ''}; more than that for ${(seconds + 2 * sampleS).toFixed(2)} s would have shown`,
      { value: bar * (1 + error), unit: 'N·m' },
    ),
    finding: found
      ? finding({
          kind: 'torque-without-pedal',
          subject: { type: 'pedal' },
          span_s: [from, to],
          value: held.value,
          unit: 'N·m',
          plusMinus: held.value * error,
          limit: { ...limit, source: limit.source },
          severity: 'stop',
          headline: `The motor drives with ${held.value.toFixed(0)} N·m while the accelerator is released`,
          reason: `From ${from.toFixed(1)} s on, for ${(to - from).toFixed(1)} s, the motor drove the car with at least ${held.value.toFixed(1)} N·m at ${Number.isFinite(kmh) ? `${kmh.toFixed(0)} km/h` : 'a speed not logged'} with the accelerator at rest${braking ? ' and the brake applied' : ''}; the limit is ${bar} N·m for more than ${seconds} s. Torque that was falling within ${IDLE_RETURN_S} s of the release is not counted.${creep === 0 && kmh < 12 ? ' If the car is meant to creep, give its creep torque in the vehicle file.' : ''}`,
          next_step: STOP_USE,
          cautions: [LOCAL_RULES],
          channels: data.channels,
        })
      : null,
  }
}

function against(facts: Facts, data: PedalAndTorque | null, missing: readonly string[]): One {
  const noSelector = facts.drive.channels.has('selector') ? [] : ['selector']
  const log = 'log selector, torque and motor speed'
  if (!data || noSelector.length > 0 || !data.signedTorque)
    return {
      question: notAssessed(
        'pedal',
        AGAINST,
        [...missing, ...noSelector],
        data && !data.signedTorque
          ? 'torque is logged without sign'
          : `not logged: ${[...missing, ...noSelector].join(', ')}`,
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
  if (selected > 0) return nm < 0 && rpm < -20 ? -nm : 0
  return data.signedSpeed && nm > 0 && rpm > 20 ? nm : 0
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
    const missing = [
      ...(data ? [] : ['pedal_position', 'torque']),
      ...(applied ? [] : ['brake_switch']),
    ].filter((id) => !facts.drive.channels.has(id))
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
  const cut = brakeOverride(applied, data.percent, travel)
  const went = data.timeS.reduce(
    (most, _, i) => (cut[i] === 1 && data.driveNm[i]! > most ? data.driveNm[i]! : most),
    0,
  )
  const drove =
    went > 10
      ? `, and the motor drove with up to ${went.toFixed(0)} N·m (the rule cuts torque until travel is under 5 %)`
      : ''
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
      ? finding({
          kind: 'pedal-with-brake',
          subject: { type: 'pedal' },
          span_s: [data.timeS[shown.first]!, data.timeS[shown.last]!],
          value: shown.atLeastS,
          unit: 's',
          low: shown.atLeastS,
          high: Math.min(shown.atMostS, shown.atLeastS + 2 * sampleS),
          limit: {
            attention: seconds,
            stop: null,
            unit: 's',
            source: `${facts.limits.pedalWithBrakeMs.source}; ${percent.source}`,
          },
          severity: found ? 'attention' : 'note',
          headline: found
            ? `Accelerator over ${travel} % with the brake applied for ${shown.atLeastS.toFixed(1)} s while the car moved`
            : `Accelerator over ${travel} % with the brake applied for ${shown.atLeastS.toFixed(1)} s at walking pace`,
          reason: found
            ? `From ${data.timeS[shown.first]!.toFixed(1)} s on both pedals were pressed above ${slow} km/h${drove}. Either the driver did so, or the brake signal hangs, or the accelerator does not return.`
            : 'Below 5 km/h this is how a hill start is driven.',
          next_step:
            'Ask the driver; then check that the brake light goes out when the pedal is let go and that the accelerator returns by itself from every position.',
          cautions: [LOCAL_RULES],
          channels: data.channels,
        })
      : null,
  }
}

const longest = <T extends { atLeastS: number }>(runs: readonly T[]): T | null =>
  runs.reduce<T | null>((worst, run) => (!worst || run.atLeastS > worst.atLeastS ? run : worst), null)
