import { describe, expect, it } from 'vitest'
import type { Finding, Question, Start } from '../../shared/review.ts'
import { assessed, notAssessed } from '../../src/facts/answer.ts'
import { atWalkingPace, toDrive } from '../../src/facts/drive-advice.ts'
import { finding } from '../../src/facts/finding.ts'
import { RUNG_QUESTIONS } from '../../src/facts/rung-questions.ts'
import { openRungs } from '../../src/review/rungs.ts'
import { withholdDriving } from '../../src/review/withhold-driving.ts'

/** The three rungs of the safety page ("What to do to find out has three rungs"). */
const advice = toDrive('a few stops', 'after five of them')
const asked = notAssessed('energy', 'Does it?', [], 'too gentle', advice)
const slowly = notAssessed('brake', 'Does the brake?', [], 'no press', atWalkingPace('press the brake once'))
const names = Object.keys(RUNG_QUESTIONS) as (keyof typeof RUNG_QUESTIONS)[]
const seenBut = (...without: (keyof typeof RUNG_QUESTIONS)[]): Question[] =>
  names
    .filter((name) => !without.includes(name))
    .map((name) => assessed('log', RUNG_QUESTIONS[name], false, ''))
const start = (reached: Start['reached'], lost_s: number | null = null): Start => ({
  ...{ span_s: [0, 9], reached, steps: [], first_failed: null, lost_s },
})
const says = (kind: Finding['kind'], severity: Finding['severity'], headline = 'It speaks.'): Finding =>
  finding({
    ...{ kind, severity, headline, subject: { type: 'pedal' }, span_s: [0, 1], value: 20, unit: 'points' },
    ...{ limit: null, reason: '', next_step: '', channels: [] },
  })
const STILL = { peak: { speed_kmh: 0, current_a: 0 } }

interface Case {
  findings?: Finding[]
  questions?: Question[]
  starts?: Start[]
  peak?: { speed_kmh: number; current_a: number }
}
const rungs = ({ findings = [], questions = seenBut(), starts = [start('driving')], peak }: Case = {}) =>
  openRungs({ findings, questions, starts, drive: peak ? { peak } : STILL })

describe('what a person may be asked to do', () => {
  it('names place, company and end; every rung is open where nothing speaks against it', () => {
    expect(rungs()).toEqual({ standing: null, walking: null, road: null })
    expect(advice.text).toMatch(/closed place.*second person.*end after five/)
    expect(slowly.to_assess).toMatch(/closed place.*second person.*walking pace/)
    expect(withholdDriving([asked, slowly], rungs())).toEqual([asked, slowly])
  })

  it.each<[string, Case, RegExp]>([
    [
      'a finding says stop',
      { findings: [says('pedal-mismatch', 'stop', 'The tracks differ.')] },
      /The tracks differ$/,
    ],
    [
      'the car cannot drive',
      { findings: [says('no-drive', 'stop')], starts: [start('precharge')] },
      /cannot drive/,
    ],
    [
      'torque without pedal is unproved',
      { findings: [says('torque-without-pedal', 'attention')] },
      /unproved/,
    ],
    ['a lost drive stands', { findings: [says('drive-lost', 'attention')] }, /unproved/],
    ['the tracks are not assessed', { questions: seenBut('tracks') }, /accelerator/],
    ['isolation is not assessed', { questions: seenBut('isolation') }, /isolation/],
    ['the contactors are not assessed', { questions: seenBut('contactors') }, /contactors/],
    ['it was never seen able to drive', { starts: [start('waiting')] }, /able to drive/],
    ['drive was lost for good', { starts: [start('driving', 5)] }, /able to drive/],
  ])('nothing is to be driven where %s', (_, given, why) => {
    const closed = rungs(given)
    expect(closed.standing).toBeNull()
    expect(closed.walking).toMatch(why)
    expect(closed.road).toMatch(why)
    for (const question of withholdDriving([asked, slowly], closed)) {
      expect(question.to_assess).toBeNull()
      expect(question.why).toMatch(/What to drive is left out/)
    }
  })

  it('keeps walking pace where only the brakes were not seen to work', () => {
    const closed = rungs({ questions: seenBut('braking') })
    expect(closed.walking).toBeNull()
    expect(closed.road).toMatch(/braking/)
    const [road, walk] = withholdDriving([asked, slowly], closed)
    expect(road!.to_assess).toBeNull()
    expect(walk!.to_assess).toBe(slowly.to_assess)
  })

  it('takes a car that moved on its own current for able to drive, and a note of torque as proved', () => {
    expect(rungs({ starts: [], peak: { speed_kmh: 40, current_a: 80 } }).road).toBeNull()
    expect(rungs({ starts: [] }).walking).toMatch(/able to drive/)
    expect(rungs({ findings: [says('torque-without-pedal', 'note')] }).road).toBeNull()
  })

  it('keeps what to log in any case', () => {
    const log = notAssessed('energy', 'Does it?', [], 'not logged', 'Log torque.')
    expect(withholdDriving([log], rungs({ findings: [says('pedal-mismatch', 'stop')] }))).toEqual([log])
  })
})
