import { type Answer, assessed } from '../../facts/answer.ts'
import type { Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'

const QUESTION = 'Are the values of each channel possible in their unit?'

/**
 * Are the values of each channel possible in their unit?
 *
 * Model:  a column named by its words whose values fit no car in the stated unit but do a thousand times larger or
 *         smaller; and a battery current, battery voltage or pedal track that the rest of the log contradicts so.
 * Reads:  every column in V, mV, A or mA; speed [km/h].
 * Gives:  `unit-doubtful` [factor], a note each. The channel is left out, so what needs it is not assessed.
 * Biased by: an odd car, whose values are far from those of usual ones.
 * Blind:  slips other than a thousand; slips that still fit a car.
 * Source: common practice, no source.
 */
export function unitsInDoubt(facts: Facts): Answer {
  const doubts = facts.drive.doubts ?? []
  return {
    questions: [
      assessed(
        'log',
        QUESTION,
        doubts.length > 0,
        doubts.length > 0
          ? doubts.map(({ from, why }) => `${from}: ${why}`).join('; ')
          : 'no voltage or current is off by a thousand',
      ),
    ],
    findings: doubts.map(({ id, from, factor, why, file }) =>
      finding({
        kind: 'unit-doubtful',
        subject: { type: 'channel', name: id },
        span_s: [0, facts.drive.durationS],
        value: factor,
        unit: '',
        limit: null,
        severity: 'note',
        headline: `The unit of \u201c${from}\u201d cannot be right: its values are off by ${factor > 1 ? 'a factor of 1000' : 'a factor of 1/1000'}`,
        reason: `${file}: ${why}. Nothing is judged by this channel.`,
        next_step:
          'Put the unit right in the column\u2019s name or the signal table, and review the log again.',
        channels: [],
      }),
    ),
  }
}
