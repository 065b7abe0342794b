import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { BRAKE_CHANGE } from '../../facts/cautions.ts'
import type { Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { slipControl, wheelSlip } from '../models/wheel-slip.ts'

const QUESTION = 'Did a driven wheel slip, driving or braking?'
/** Slip that a driver or a slip control must answer, percent of the free speed. Common practice, no source. */
const SLIP = { attention: 10, stop: null, unit: '%', source: 'common practice, no source' }

/**
 * Did the driven axle slip?
 *
 * Model:  see `wheelSlip`: driven against free speed, ratio calibrated at little torque, held for 0.25 s.
 * Reads:  motor_speed [rpm], wheel_speed.* or a speed that does not come from the motor [km/h], torque [N·m],
 *         traction_active, abs_active.
 * Gives:  `wheel-slip` [%]; slip control at work is a note, and forbids any increase of regeneration (tuning).
 * Biased by: tyres that differ and a gearbox, both in the calibrated ratio; bends.
 * Blind:  both axles slipping alike; logs with one speed only, or slower than 5 Hz.
 * Source: limit: common practice, no source.
 */
export function wheelSlipAnalysis(facts: Facts): Answer {
  const slip = facts.once(wheelSlip)
  const control = slipControl(facts)
  const worked = control === true ? ' Slip or anti-lock control was at work in this drive.' : ''
  if (!slip)
    return {
      questions: [
        notAssessed(
          'brake',
          QUESTION,
          facts.drive.channels.has('motor_speed') ? ['wheel_speed.1'] : ['motor_speed', 'wheel_speed.1'],
          `the log has no speed of the free axle beside the motor\u2019s at 5 Hz or more.${worked}`,
          'log the wheel speeds of both axles, and say in the vehicle file which axle is driven and where the speed comes from',
          '%',
        ),
      ],
      findings: [],
    }
  const found = slip.slipPercent > SLIP.attention
  return {
    questions: [
      assessed(
        'brake',
        QUESTION,
        found,
        `motor speed compared with ${slip.comparedWith} for ${slip.comparedS.toFixed(0)} s; most slip held ${slip.slipPercent.toFixed(1)} %.${worked}`,
        { value: SLIP.attention + slip.plusMinusPercent, unit: '%' },
      ),
    ],
    findings: found
      ? [
          finding({
            kind: 'wheel-slip',
            subject: {
              type: 'axle',
              ...(facts.vehicle.car?.driven_axle ? { name: facts.vehicle.car.driven_axle } : {}),
            },
            span_s: [slip.fromS, slip.toS],
            value: slip.slipPercent,
            unit: '%',
            plusMinus: slip.plusMinusPercent,
            limit: SLIP,
            headline: `The driven axle ${slip.driving ? 'spun' : 'slowed'} by ${slip.slipPercent.toFixed(0)} % against the free one`,
            reason: `From ${slip.fromS.toFixed(1)} to ${slip.toS.toFixed(1)} s, ${slip.driving ? 'driving' : 'under regeneration'}, the motor turned ${slip.driving ? 'faster' : 'slower'} than the car rolled.${worked}`,
            next_step:
              'Note road and tyres of that moment; lower the torque there before anything is raised. No increase of regeneration is proposed from this drive.',
            cautions: [BRAKE_CHANGE],
            channels: slip.channels,
          }),
        ]
      : [],
  }
}
