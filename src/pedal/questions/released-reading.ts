import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { LOCAL_RULES } from '../../facts/cautions.ts'
import { type Facts, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { releasedDrift } from '../models/released-drift.ts'

const QUESTION = 'Does the accelerator read the same each time it is let go?'
/** The contract: a released reading that moves over 2 points within a drive. */
const MOVES = { attention: 2, stop: null, unit: 'points', source: 'common practice, no source' }
/** Tracks that move alike within this share share their cause. */
const ALIKE = 0.5

/**
 * Does the accelerator read the same each time it is let go?
 *
 * Model:  see `releasedDrift`: the reading of each track while the foot is on the brake, three stretches a level.
 * Reads:  pedal_track_1, pedal_track_2 [V, % or counts], the brake, speed [km/h].
 * Gives:  `pedal-rest-moves` [points of travel], attention at most. Both tracks alike: what they share (supply, ground,
 *         the pedal's own return) moves, which no comparison of the tracks shows.
 * Biased by: play in the pedal.
 * Blind:  an offset that lasts the whole drive; a drift of less than three stops; a driver who brakes with the left foot.
 * Source: limit: common practice, no source.
 */
export function releasedReading(facts: Facts): Answer {
  const drift = facts.once(releasedDrift)
  if ('why' in drift) {
    const missing = unlogged(facts, ['pedal_track_1', 'pedal_track_2'])
    return {
      questions: [
        notAssessed(
          'pedal',
          QUESTION,
          missing,
          drift.why,
          'log both tracks and the brake, and put the pedal\u2019s end points in the vehicle file',
          'points',
        ),
      ],
      findings: [],
    }
  }
  const found = drift.points > MOVES.attention
  const question = assessed(
    'pedal',
    QUESTION,
    found,
    `read while the brake was pressed, ${drift.rests} times; moved by at most ${drift.points.toFixed(1)} % of travel`,
    { value: MOVES.attention + drift.plusMinus, unit: 'points' },
  )
  if (!found) return { questions: [question], findings: [] }
  const [one, two] = drift.moved
  const alike = Math.abs(one - two) < ALIKE * Math.max(Math.abs(one), Math.abs(two))
  const which = alike ? 'Both tracks' : `Track ${Math.abs(one) > Math.abs(two) ? 1 : 2}`
  return {
    questions: [question],
    findings: [
      finding({
        kind: 'pedal-rest-moves',
        subject: { type: 'pedal', ...(alike ? {} : { index: Math.abs(one) > Math.abs(two) ? 1 : 2 }) },
        span_s: [drift.fromS, drift.toS],
        value: drift.points,
        unit: 'points',
        plusMinus: drift.plusMinus,
        limit: MOVES,
        headline: `The released accelerator\u2019s reading moves by ${drift.points.toFixed(1)} % of its travel`,
        reason: `${which} read ${alike ? 'another value' : 'another value than before'} with the foot on the brake: track 1 by ${signed(one)}, track 2 by ${signed(two)} % of travel between ${drift.fromS.toFixed(0)} and ${drift.toS.toFixed(0)} s. ${alike ? 'What both share has moved: their supply or ground, or the pedal does not come back.' : 'That track\u2019s sensor, plug or wire has moved; the other stayed nearer.'}`,
        next_step:
          'Key on and drive disabled: log both tracks and their supply with the pedal untouched, then after each of ten presses; look at plug, ground and return spring.',
        cautions: [LOCAL_RULES],
        channels: ['pedal_track_1', 'pedal_track_2'],
      }),
    ],
  }
}

const signed = (points: number): string => `${points < 0 ? '\u2212' : '+'}${Math.abs(points).toFixed(1)}`
