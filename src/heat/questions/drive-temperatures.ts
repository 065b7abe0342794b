import type { Finding, Question } from '../../../shared/review.ts'
import type { Span } from '../../../shared/units.ts'
import { fieldsInWords } from '../../../shared/vehicle-words.ts'
import { capital } from '../../../shared/wording.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { DC_LINK, OUTSIDE_BOX } from '../../facts/cautions.ts'
import { toDrive } from '../../facts/drive-advice.ts'
import type { Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { spansWhere } from '../../math/spans.ts'
import { type DriveHeat, type DrivePart, driveHeat, UNIT } from '../models/drive-heat.ts'
import { lostTime } from './temperatures.ts'

const RISE = 'How warm do inverter and motor become on this duty?'
const SENSORS = 'Do the inverter\u2019s and the motor\u2019s temperature sensors read, and follow their heat?'
/** A sensor's own error, K. Common practice, no source. */
const SENSOR_ERROR_C = 2

/**
 * Inverter and motor: rise over the drive, where they settle on its duty, their limits, and their sensors.
 *
 * Model: `driveHeat`.
 * Reads: inverter_temperature, motor_temperature, coolant_in [°C], torque, pack current and voltage.
 * Gives: `temperature-limit` [°C] past `car.inverter_temperature_max` or `car.motor_temperature_max` of the vehicle
 * file (without one there is no limit and the question says so); `temperature-reading-invalid` and `-frozen` [s lost];
 * the rise, the settling temperature and the time to the limit in the question's words.
 * Biased by: a sensor at the case, slower than what it guards.
 * Blind: places that have no sensor (windings read by a case sensor); a forecast holds for this drive's load only.
 * Source: lumped thermal model; limits: the vehicle file.
 */
export function driveTemperatures(facts: Facts): Answer {
  const parts = facts.once(driveHeat)
  if (parts.length === 0) {
    const missing = ['inverter_temperature', 'motor_temperature'] as const
    const why = 'neither inverter nor motor temperature is logged'
    const to = 'Log the inverter\u2019s and the motor\u2019s temperature.'
    return {
      questions: [RISE, SENSORS].map((each) => notAssessed('heat', each, missing, why, to)),
      findings: [],
    }
  }
  const hot = parts.flatMap((each) => overLimit(facts, each) ?? [])
  const broken = parts.flatMap((each) => [...invalid(facts, each), ...frozen(each)])
  return {
    questions: [riseQuestion(facts, parts, hot.length > 0), sensorQuestion(parts, broken)],
    findings: [...hot, ...broken],
  }
}

const limitOf = (facts: Facts, part: DrivePart): number | undefined =>
  part === 'inverter' ? facts.vehicle.car?.inverter_temperature_max : facts.vehicle.car?.motor_temperature_max

function riseQuestion(facts: Facts, parts: readonly DriveHeat[], found: boolean): Question {
  const said = parts.map((each) => inWords(facts, each))
  const told = parts.filter((each) => each.law)
  if (told.length === 0 && !found)
    return notAssessed(
      'heat',
      RISE,
      [],
      `${said.join(' ')} How it warms under load cannot be told from that: too small a rise, or neither torque nor current is logged.`,
      toDrive(
        'drive under load for ten minutes, with torque or battery current in the log',
        'when they are over, or when any limit comes near',
      ),
      '°C',
    )
  const limits = parts.flatMap((each) => limitOf(facts, each.part) ?? [])
  return assessed('heat', RISE, found, said.join(' '), {
    value: limits.length > 0 ? Math.min(...limits) + SENSOR_ERROR_C : null,
    unit: '°C',
  })
}

function inWords(facts: Facts, { part, riseC, hottestC, stepC, aboveCoolantC, law }: DriveHeat): string {
  if (!Number.isFinite(riseC)) return `${capital(part)}: no reading can be believed.`
  const limit = limitOf(facts, part)
  const words = [
    `${capital(part)}: rose by ${riseC.toFixed(1)} ± ${Math.max(stepC, 0.2).toFixed(1)} K to ${hottestC.toFixed(0)} °C`,
  ]
  if (aboveCoolantC !== null) words.push(`${aboveCoolantC.toFixed(0)} K above the coolant at the end`)
  if (law) {
    words.push(
      `on this drive\u2019s mean ${law.heat} it settles near ${law.settlesC.toFixed(0)} ± ${Math.max(1, law.settlesPlusMinusC).toFixed(0)} °C (${law.kelvinPerUnit.toPrecision(2)} K per ${UNIT[law.heat].words}, time constant ${law.tauS.toFixed(0)} s)`,
    )
    if (limit !== undefined) {
      const untilS = law.untilS(limit)
      words.push(
        untilS === null
          ? law.settlesC + law.settlesPlusMinusC > limit
            ? `its limit of ${limit} °C lies inside that interval`
            : `its limit is ${limit} °C`
          : `the same load would pass its limit of ${limit} °C, by the estimate within ${Math.max(1, Math.floor(untilS / 60))} min and possibly sooner; do not drive to find out`,
      )
    }
  }
  if (limit === undefined) words.push('the vehicle file gives no limit')
  return `${words.join('; ')}.`
}

function overLimit(facts: Facts, { part, channel, stepC }: DriveHeat): Finding | null {
  const limit = limitOf(facts, part)
  if (limit === undefined) return null
  const { timeS, values } = channel
  const held = spansWhere(timeS, (i) => values[i]! > limit).filter(([from, to]) => to - from >= 1)
  if (held.length === 0) return null
  const span: Span = [held[0]![0], held[held.length - 1]![1]]
  let hottest = Number.NEGATIVE_INFINITY
  for (let i = 0; i < timeS.length; i++)
    if (timeS[i]! >= span[0] && timeS[i]! <= span[1] && values[i]! > hottest) hottest = values[i]!
  const source = `vehicle file, ${fieldsInWords([`car.${part}_temperature_max`])}`
  return finding({
    kind: 'temperature-limit',
    subject: { type: 'channel', name: channel.id },
    span_s: span,
    value: hottest,
    unit: '°C',
    plusMinus: Math.max(SENSOR_ERROR_C, stepC),
    limit: { attention: limit, stop: null, unit: '°C', source },
    headline: `${capital(part)} reached ${hottest.toFixed(0)} °C; the limit is ${limit} °C.`,
    reason: `It read above the limit from ${span[0].toFixed(0)} to ${span[1].toFixed(0)} s. The interval is the sensor's own error.`,
    next_step:
      'Let it cool, then look at its coolant loop (level, pump, air) or its air path; compare the torque that was asked with what the maker allows for so long.',
    cautions: [OUTSIDE_BOX, DC_LINK],
    channels: [channel.id],
  })
}

function invalid(facts: Facts, { part, channel }: DriveHeat): Finding[] {
  const lost = lostTime(channel.timeS, channel.values)
  if (!(lost.seconds > 0)) return []
  return [
    sensorFinding({
      kind: 'temperature-reading-invalid',
      part,
      id: channel.id,
      span: lost.span,
      seconds: lost.seconds,
      loud: lost.seconds > Math.max(10, 0.05 * facts.drive.durationS),
      headline: `${capital(part)} temperature gave nothing believable for ${lost.seconds.toFixed(0)} s.`,
      reason:
        'Its readings were outside what such a sensor can read: an open or shorted sensor lead, or a plug.',
    }),
  ]
}

function frozen({ part, channel, stuck_s, stuckMissedC }: DriveHeat): Finding[] {
  if (!stuck_s) return []
  const seconds = stuck_s[1] - stuck_s[0]
  return [
    sensorFinding({
      kind: 'temperature-reading-frozen',
      part,
      id: channel.id,
      span: stuck_s,
      seconds,
      loud: true,
      headline: `${capital(part)} temperature did not move for ${seconds.toFixed(0)} s while its heat did.`,
      reason: `By the rest of the drive, or the part beside it, it should have moved: ${stuckMissedC.toFixed(1)} K went by in that time; a part that grew hot would not have been seen.`,
    }),
  ]
}

function sensorFinding(said: {
  kind: 'temperature-reading-invalid' | 'temperature-reading-frozen'
  part: DrivePart
  id: string
  span: Span
  seconds: number
  loud: boolean
  headline: string
  reason: string
}): Finding {
  return finding({
    kind: said.kind,
    subject: { type: 'temperature-sensor', name: said.id },
    span_s: said.span,
    value: said.seconds,
    unit: 's',
    plusMinus: 0,
    limit: null,
    severity: said.loud ? 'attention' : 'note',
    headline: said.headline,
    reason: said.reason,
    next_step:
      'Measure the sensor\u2019s resistance at its plug with the car isolated, and compare it with its maker\u2019s table at the room\u2019s temperature.',
    cautions: [OUTSIDE_BOX, DC_LINK],
    channels: [said.id],
  })
}

function sensorQuestion(parts: readonly DriveHeat[], broken: readonly Finding[]): Question {
  const found = broken.some((each) => each.severity !== 'note')
  const told = parts.filter((each) => each.law || each.stuck_s)
  const why = `${parts.length === 2 ? 'Both are' : `Only the ${parts[0]!.part}\u2019s is`} logged.`
  if (!found && told.length < parts.length) {
    const names = parts.filter((each) => !told.includes(each)).map((each) => each.part)
    return notAssessed(
      'heat',
      SENSORS,
      [],
      `${why} The ${names.join(' and the ')} warmed too little to tell a stuck sensor from a cool part; every reading was believable.`,
      toDrive(
        'drive under load until both have warmed by some kelvin',
        'when they have, or when any limit comes near',
      ),
      'K',
    )
  }
  const smallest = Math.max(4, ...parts.map((each) => Math.max(4 * each.stepC, 5 * (each.law?.spreadC ?? 0))))
  return assessed('heat', SENSORS, found, why, { value: smallest, unit: 'K' })
}
