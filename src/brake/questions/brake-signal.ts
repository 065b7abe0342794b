import type { ChannelId } from '../../../shared/channels.ts'
import type { Finding } from '../../../shared/review.ts'
import type { Span } from '../../../shared/units.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { LOCAL_RULES } from '../../facts/cautions.ts'
import { toDrive } from '../../facts/drive-advice.ts'
import type { Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { type MissingBrakeSignal, missingBrakeSignal, SIGNAL_TIMEOUT_S } from '../models/brake-signal.ts'

const QUESTION = 'Is the brake pressure there whenever the car brakes?'

/**
 * Does the brake signal go missing?
 *
 * Model:  the brake switch is on, the accelerator at rest and the car slows by over 1.2 m/s², yet the pressure stays at
 *         its zero; or no reading comes for over 500 ms while the car moves (see `missingBrakeSignal`).
 * Reads:  brake_pressure [bar] or brake_travel [%], brake_switch, speed [km/h], accelerator [%].
 * Gives:  `brake-signal-missing` [s in all].
 * Biased by: a switch that closes before the pressure rises (a second of grace is given).
 * Blind:  a car without brake switch; a pressure that reads too low but not zero.
 * Source: Formula Student rules T11.9.4 (no safety signal may be away for more than 500 ms).
 */
export function brakeSignal(facts: Facts): Answer {
  const missing = facts.once(missingBrakeSignal)
  const has = (id: ChannelId): boolean => facts.drive.channels.has(id)
  const need: ChannelId[] = [
    ...((['brake_pressure', 'brake_pressure_front', 'brake_pressure_rear', 'brake_travel'] as const).some(has)
      ? []
      : (['brake_pressure'] as const)),
    ...(has('brake_switch') ? [] : (['brake_switch'] as const)),
    ...(has('speed') || has('wheel_speed.1') ? [] : (['speed'] as const)),
  ]
  if (!missing || (missing.comparedS < 1 && missing.gaps.length === 0))
    return {
      questions: [
        notAssessed(
          'brake',
          QUESTION,
          need,
          need.length > 0
            ? `not logged: ${need.join(', ')}`
            : 'the car hardly braked with its brake switch on',
          need.length > 0
            ? 'Log brake pressure, brake switch and speed.'
            : toDrive('brake a few times from 50 km/h', 'after five stops'),
          's',
        ),
      ],
      findings: [],
    }
  const spans = [...missing.silent, ...missing.gaps].sort((a, b) => a[0] - b[0])
  const found = missing.missingS > SIGNAL_TIMEOUT_S
  const first = spans[0]
  return {
    questions: [
      assessed(
        'brake',
        QUESTION,
        found,
        `${missing.comparedS.toFixed(0)} s of braking by switch and deceleration compared with the pressure; missing ${missing.missingS.toFixed(1)} s`,
        { value: SIGNAL_TIMEOUT_S, unit: 's' },
      ),
    ],
    findings: found && first ? [missingFinding(missing, first, spans[spans.length - 1]![1], has)] : [],
  }
}

function missingFinding(
  missing: MissingBrakeSignal,
  first: Span,
  lastS: number,
  has: (id: ChannelId) => boolean,
): Finding {
  return finding({
    kind: 'brake-signal-missing',
    subject: { type: 'brake' },
    span_s: [first[0], lastS],
    onset_s: first[0],
    value: missing.missingS,
    unit: 's',
    plusMinus: 0.3 * (missing.silent.length + missing.gaps.length),
    limit: {
      attention: SIGNAL_TIMEOUT_S,
      stop: null,
      unit: 's',
      source: 'Formula Student rules T11.9.4 (500 ms)',
    },
    headline: `The brake signal is missing for ${missing.missingS.toFixed(1)} s of braking`,
    reason:
      missing.silent.length > 0
        ? `${missing.silent.length} time${missing.silent.length === 1 ? '' : 's'}, first at ${first[0].toFixed(1)} s, the brake switch was on and the car slowed as it does in braking, yet the brake signal stayed at its zero. Regeneration that follows this signal was then missing too.`
        : `${missing.gaps.length} time${missing.gaps.length === 1 ? '' : 's'}, first at ${first[0].toFixed(1)} s, no reading of the brake signal came for over 500 ms while the car moved.`,
    next_step:
      'With the car standing, press the brake and watch the sensor against a gauge while moving its plug and wires; check its supply.',
    cautions: ['Friction brakes alone must stop the car; check them before anything else.', LOCAL_RULES],
    channels: (['brake_pressure', 'brake_switch', 'speed'] as const).filter(has),
  })
}
