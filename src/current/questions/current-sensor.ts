import type { Finding, Question } from '../../../shared/review.ts'
import { type PackCurrent, packCurrent } from '../../car/pack-current.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import type { Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { duration } from '../../math/spans.ts'
import { indexAt, samplePeriod } from '../../samples/on-one-clock.ts'

const ZERO = 'Does the current sensor read zero when no current can flow?'
const RANGE = 'Did the current reach the end of its sensor’s range?'
const SIGN = 'Is the sign of the battery current known?'
/** Samples that a flat top needs before it is believed (see `findClipping`). */
const FLAT_SAMPLES = 8

/**
 * Can the current be believed: its zero, its range, its sign?
 *
 * Model:  see `packCurrent`: the zero is what is read with contactors open; flat tops are the range's end.
 * Reads:  pack_current [A], contactors, key, torque and speed as witnesses.
 * Gives:  `current-offset` [A, discharge positive, the largest zero seen], `current-clipped` [A, end of the range,
 *         the true peak is at least that].
 * Biased by: a load that goes on with the contactors open (heater, converter), which reads as zero error.
 * Blind:  to gain; to a range that was never reached; to a zero without a moment that shows it.
 * Source: definition; limit of the zero: common practice, no source.
 */
export function currentSensor(facts: Facts): Answer {
  const current = facts.once(packCurrent)
  if (!current) {
    const derived = 'no battery current in the log'
    const toAssess = 'Log the pack current at 10 Hz or faster.'
    const questions = [ZERO, RANGE, SIGN].map((question) =>
      notAssessed('log', question, ['pack_current'], derived, toAssess, 'A'),
    )
    return { questions, findings: [] }
  }
  const offset = zeroFinding(facts, current)
  const clipped = rangeFindings(current)
  const questions: Question[] = [
    current.zeroPlusMinusA === null
      ? notAssessed(
          'log',
          ZERO,
          ['contactor_positive', 'contactor_negative', 'key_on'],
          'no moment shows that no current could flow',
          'Start the log before the key is turned and stop it a minute after the car is switched off.',
          'A',
        )
      : assessed(
          'log',
          ZERO,
          offset !== null,
          `${current.zeroDrifts.length} stretches ${current.zeroFrom === 'contactors-open' ? 'with contactors open' : 'with the key off'}: zero ${current.zeroA.toFixed(2)} ± ${current.zeroPlusMinusA.toFixed(2)} A, removed.`,
          {
            value: facts.limits.currentOffset.attention! + current.zeroPlusMinusA,
            unit: 'A',
            limit: facts.limits.currentOffset.attention,
            measured: Math.abs(current.zeroA),
          },
        ),
    assessed(
      'log',
      RANGE,
      clipped.length > 0,
      clipped.length > 0
        ? `Flat for ${duration(current.clippedSpans).toFixed(1)} s in all; those moments leave all fits.`
        : 'No flat tops.',
      { value: FLAT_SAMPLES * samplePeriod(current.timeS), unit: 's at the end of the range' },
    ),
    current.sign === 'unproved'
      ? notAssessed(
          'log',
          SIGN,
          ['pack_voltage', 'torque', 'motor_speed'],
          'neither a sagging voltage nor torque and speed in the log show it',
          'Log pack voltage, torque and motor speed beside the current.',
        )
      : assessed(
          'log',
          SIGN,
          false,
          current.sign === 'proved'
            ? 'A loaded pack sags, and power follows torque times speed.'
            : 'The log gives the size alone; the sign was worked out from the rest of the car.',
        ),
  ]
  return { questions, findings: [...(offset ? [offset] : []), ...clipped] }
}

function zeroFinding(facts: Facts, current: PackCurrent): Finding | null {
  const limit = facts.limits.currentOffset
  let worst = current.zeroDrifts[0]
  for (const point of current.zeroDrifts)
    if (Math.abs(point.amperes) > Math.abs(worst!.amperes)) worst = point
  if (!worst || current.zeroPlusMinusA === null) return null
  const size = Math.abs(worst.amperes)
  if (size - worst.plusMinusA < limit.attention!) return null
  const drifts = current.zeroDrifts.some((point) => Math.abs(point.amperes - worst.amperes) > 0.3 * size)
  return finding({
    kind: 'current-offset',
    subject: { type: 'channel', name: 'pack_current' },
    span_s: worst.span_s,
    value: worst.amperes,
    unit: 'A',
    plusMinus: worst.plusMinusA,
    limit,
    severity: 'attention',
    headline: `The current sensor reads ${worst.amperes.toFixed(1)} A when no current can flow.`,
    reason: `${drifts ? 'It moves over the drive. ' : ''}${current.sign === 'from-magnitude' ? 'Without a sign in the log it cannot be removed and widens every figure here;' : 'It was removed from every figure here, but'} the battery unit counts it as charge: ${size.toFixed(1)} Ah in an hour.`,
    next_step:
      'Zero the current sensor with the contactors open by the battery unit’s own procedure; check that no strong field or cable lies beside it.',
    channels: ['pack_current'],
  })
}

function rangeFindings(current: PackCurrent): Finding[] {
  const found: Finding[] = []
  for (const [at, end] of current.rangeA.entries()) {
    const side = at === 0 ? -1 : 1
    const spans = current.clippedSpans.filter(
      ([from]) => current.clippedSide[indexAt(current.timeS, from)] === side,
    )
    const [first, last] = [spans[0], spans[spans.length - 1]]
    if (end === null || !first || !last) continue
    const seconds = duration(spans)
    found.push(
      finding({
        kind: 'current-clipped',
        subject: { type: 'channel', name: 'pack_current' },
        span_s: [first[0], last[1]],
        value: Math.abs(end),
        unit: 'A',
        plusMinus: Math.max(current.noiseA, (current.gainPercent / 100) * Math.abs(end)),
        bound: 'at-least',
        limit: null,
        severity: 'attention',
        headline: `The current sensor stops at ${Math.abs(end).toFixed(0)} A ${end > 0 ? 'discharge' : 'charge'}; the true current was higher.`,
        reason: `The reading stands flat for ${seconds.toFixed(1)} s in all while the rest of the car goes on. Energy and peaks are at least what is given.`,
        next_step:
          'Check the range set in the battery unit against the sensor’s, or fit a sensor whose range covers the inverter’s highest current.',
        channels: ['pack_current'],
      }),
    )
  }
  return found
}
