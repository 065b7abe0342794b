import type { ChannelId } from '../../../shared/channels.ts'
import type { Finding, Question } from '../../../shared/review.ts'
import { brakeTrace } from '../../car/brake-trace.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { BRAKE_CHANGE } from '../../facts/cautions.ts'
import { toDrive } from '../../facts/drive-advice.ts'
import type { Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { RUNG_QUESTIONS } from '../../facts/rung-questions.ts'
import { median } from '../../math/stats.ts'
import { regenMap, SLOW_S } from '../models/regen-map.ts'
import { pressThrough } from '../models/regen-rows.ts'
import { regenSection } from '../models/regen-section.ts'
import { aboveFades } from '../models/slowing-map.ts'

/** Fewer rows under the start pressure show nothing of what comes before it; no source. */
const FEWEST_BELOW = 5

const QUESTION = RUNG_QUESTIONS.braking

/**
 * How does regeneration follow the brake?
 *
 * Model:  see `regenMap`: start, slope, full, ceiling, speed fade, lift-off share, dead time and lag.
 * Reads:  brake_pressure (else travel, switch) [bar], torque_request and torque [N·m], speed [km/h], accelerator [%].
 * Gives:  the `regen` section; `regen-dead-band` [bar] where regeneration begins later than the vehicle file's start
 *         + 2 bar, else 5 bar.
 * Biased by: a brake input read later than the torque (fitted), play of the pedal, slewing of the inverter.
 * Blind:  what the map does at pressures and speeds that the drive did not reach.
 * Source: limits: common practice, no source.
 */
export function regeneration(facts: Facts): Answer {
  const trace = facts.once(brakeTrace)
  const fit = facts.once(regenMap)
  if (!trace || trace.input === 'none' || trace.applications.length === 0 || !fit) return unseen(facts)
  const findings: Finding[] = []
  const dead = deadBand(facts)
  if (dead) findings.push(dead)
  const start = fit.start
  const question: Question = start
    ? assessed(
        'brake',
        QUESTION,
        dead !== null && dead.severity !== 'note',
        `${fit.applications} brake applications, ${trace.input === 'pressure' ? `sensor zero ${trace.zero.toFixed(1)} bar, ` : ''}${start.bound === 'at-most' ? `no lift-off was seen alone, so where regeneration begins is told as at most ${start.value.toFixed(1)}` : start.bound === 'at-least' ? `no regeneration follows the press up to ${start.value.toFixed(1)}` : `regeneration begins at ${start.value.toFixed(1)} ± ${(start.plusMinus ?? 0).toFixed(1)}`} ${pressUnit(trace.input)}`,
        trace.input === 'pressure'
          ? { value: startLimit(facts).attention + 1.28 * ((start.plusMinus ?? 0) / 1.96), unit: 'bar' }
          : { value: null, unit: '%' },
      )
    : assessed('brake', QUESTION, false, `${fit.applications} brake applications; ${switchWords(facts)}`)
  return { questions: [question], findings, sections: { regen: regenSection(facts) } }
}

/** Only the switch was there to read: because the car has no other, or because nothing else could be used. */
function switchWords({ vehicle, drive }: Facts): string {
  const inputs = vehicle.brake?.regen_input ?? []
  const analog = inputs.includes('pressure') || inputs.includes('travel')
  const logged = [...drive.channels.keys()].some((id) => /^brake_(pressure|travel)/.test(id))
  return inputs.includes('switch') && !analog && !logged
    ? 'this car\u2019s regeneration follows a switch, so it has no start pressure'
    : 'only the brake switch could be read, so at which pressure regeneration begins is not told'
}

const pressUnit = (input: string): string => (input === 'travel' ? '% of travel' : 'bar')

function unseen(facts: Facts): Answer {
  const has = (id: ChannelId): boolean => facts.drive.channels.has(id)
  const missing: ChannelId[] = [
    ...((
      [
        'brake_pressure',
        'brake_pressure_front',
        'brake_pressure_rear',
        'brake_travel',
        'brake_switch',
      ] as const
    ).some(has)
      ? []
      : (['brake_pressure'] as const)),
    ...(has('torque') || has('torque_request') ? [] : (['torque'] as const)),
    ...(has('speed') || has('wheel_speed.1') || has('motor_speed') ? [] : (['speed'] as const)),
  ]
  const why =
    missing.length > 0
      ? `not logged: ${missing.join(', ')}`
      : slowApart(facts)
        ? 'brake and torque are logged slowly and at different moments, so neither fixes the other'
        : 'the drive has no brake application with regeneration to read'
  return {
    questions: [
      notAssessed(
        'brake',
        QUESTION,
        missing,
        why,
        missing.length > 0
          ? 'Log brake pressure, motor torque and speed at 20 Hz or more.'
          : toDrive('brake from 50 km/h, lightly and firmly in turn', 'after ten stops'),
        'bar',
      ),
    ],
    findings: [],
  }
}

function slowApart(facts: Facts): boolean {
  const trace = facts.once(brakeTrace)
  return trace !== null && trace.periodS > SLOW_S && !trace.sameRows
}

function startLimit(facts: Facts): { attention: number; source: string } {
  const given = facts.vehicle.brake?.regen_start_bar
  const { regenStartBar, regenStartAboveFileBar } = facts.limits
  if (given === undefined)
    return { attention: regenStartBar.attention ?? Number.POSITIVE_INFINITY, source: regenStartBar.source }
  const above = regenStartAboveFileBar.attention ?? Number.POSITIVE_INFINITY
  return { attention: given + above, source: `vehicle file\u2019s start ${given} bar + ${above} bar` }
}

export function deadBand(facts: Facts): Finding | null {
  const trace = facts.once(brakeTrace)!
  const fit = facts.once(regenMap)!
  const { start } = fit
  if (trace.input !== 'pressure' || !start || start.bound === 'at-most') return null
  const limit = startLimit(facts)
  const slow = trace.periodS > SLOW_S
  if (hiddenUnderLift(facts)) return null
  const unsure = slow ? (start.plusMinus ?? 0) : 0
  // where two forms fit alike, the earlier of their starts is what no one can rule out
  const earliest = Math.min(start.value, fit.rivalStart ?? start.value)
  if (!(earliest - unsure > limit.attention)) return null
  if (!quietBelow(facts)) return null
  const first = trace.applications[0]!
  const last = trace.applications[trace.applications.length - 1]!
  const never = start.bound === 'at-least'
  const inputs = facts.vehicle.brake?.regen_input
  const meant = inputs ? inputs.includes('pressure') : facts.vehicle.brake?.regen_start_bar !== undefined
  if (never && !meant) return null // a car that regenerates on lift-off alone
  const figure = start.value.toFixed(1)
  return finding({
    kind: 'regen-dead-band',
    subject: { type: 'brake' },
    span_s: [first[0], last[1]],
    value: start.value,
    unit: 'bar',
    plusMinus: start.plusMinus,
    bound: never ? 'at-least' : 'exact',
    limit: { attention: limit.attention, stop: null, unit: 'bar', source: limit.source },
    headline: never
      ? `No regeneration follows the brake up to ${figure} bar`
      : `Regeneration begins only at ${figure} bar of brake pressure`,
    reason: `Over ${trace.applications.length} brake applications the motor does not slow the car below ${figure} ± ${(start.plusMinus ?? 0).toFixed(1)} bar (limit ${limit.attention.toFixed(1)} bar): light braking is done by the friction brakes alone and its energy is lost.`,
    next_step:
      'Compare the start pressure set in the controller and the brake sensor\u2019s zero with the vehicle file; check the sensor against a gauge at a light press with the car standing.',
    cautions: [BRAKE_CHANGE],
    channels: [...trace.channels, ...(trace.requestNm ? ['torque_request'] : [])],
  })
}

/** Would the brake part begin where the vehicle file puts it, hidden under lift-off, if the larger of both counts? */
function hiddenUnderLift(facts: Facts): boolean {
  const { rivalStart } = facts.once(regenMap)!
  const given = facts.vehicle.brake?.regen_start_bar
  return rivalStart !== null && given !== undefined && Math.abs(rivalStart - given) < SAME_START_BAR
}

/** Two starts nearer to each other than this are one. Common practice, no source. */
const SAME_START_BAR = 1

/** Is there truly no regeneration just below the fitted start? A step in the map can pull the fit up to itself. */
function quietBelow(facts: Facts): boolean {
  const { rows, map, response, spreadNm } = facts.once(regenMap)!
  const press = pressThrough(rows, response)
  const below = rows.nm.filter(
    (_, i) => rows.kmh[i]! > aboveFades(map) && press[i]! > 0.6 * map.start && press[i]! < map.start - 0.3,
  )
  return (
    below.length < FEWEST_BELOW ||
    median(below) - map.liftNm < Math.max(1.5, 2 * spreadNm, 0.03 * map.brakeNm)
  )
}
