import { describe, expect, it } from 'vitest'
import { assessed, notAssessed } from '../../src/facts/answer.ts'
import { finding } from '../../src/facts/finding.ts'
import { RUNG_QUESTIONS } from '../../src/facts/rung-questions.ts'
import { openRungs } from '../../src/review/rungs.ts'
import { withholdDoubtful } from '../../src/review/withhold-doubtful.ts'

const doubt = (name: string) =>
  finding({
    ...{ kind: 'unit-doubtful', subject: { type: 'channel', name }, span_s: [0, 9], value: 1000, unit: '' },
    ...{ severity: 'note', headline: 'The unit cannot be right', limit: null, reason: '', next_step: '' },
    channels: [],
  })
const QUESTIONS = [
  assessed('pedal', RUNG_QUESTIONS.tracks, false, 'they agree', { value: 10, unit: 'points' }),
  assessed('pedal', 'Is there torque?', true, 'there is'),
  assessed('brake', RUNG_QUESTIONS.braking, false, 'it slows'),
  assessed('isolation', RUNG_QUESTIONS.isolation, false, 'it is'),
  assessed('start', RUNG_QUESTIONS.contactors, false, 'none does'),
  assessed('pack', 'Do the cells agree?', false, 'they do'),
  notAssessed('pedal', 'Does it lag?', ['torque'], 'not logged', 'log it'),
]
const changed = (name: string): string[] => {
  const after = withholdDoubtful(QUESTIONS, [doubt(name)])
  return after.flatMap((each, k) => (each === QUESTIONS[k] ? [] : [each.question]))
}

// The contract: a pedal, brake, isolation or contactor channel that is `unit-doubtful` leaves its question not assessed
// and withholds driving.
describe('a channel whose unit is in doubt', () => {
  it.each([
    ['pedal_track_1', RUNG_QUESTIONS.tracks],
    ['brake_pressure', RUNG_QUESTIONS.braking],
    ['isolation_resistance', RUNG_QUESTIONS.isolation],
    ['contactor_positive_feedback', RUNG_QUESTIONS.contactors],
  ])('%s leaves its own question unanswered, and nobody is asked to drive', (name, question) => {
    expect(changed(name)).toEqual([question])
    const [after] = withholdDoubtful(QUESTIONS, [doubt(name)]).filter((each) => each.question === question)
    expect(after).toMatchObject({ state: 'not-assessed', missing: [name], smallest_seen: null, chance: null })
    const seen = { findings: [doubt(name)], questions: QUESTIONS, starts: [] }
    const rungs = openRungs({ ...seen, drive: { peak: { speed_kmh: 40, current_a: 80 } } })
    expect(rungs.walking).toMatch(/unit .* in doubt/)
    expect(rungs.road).toMatch(/unit .* in doubt/)
    expect(rungs.standing).toBeNull()
  })

  it('what was found stands, and other channels close nothing', () => {
    expect(changed('pack_current')).toEqual([])
    const seen = { findings: [doubt('pack_current')], questions: QUESTIONS, starts: [] }
    expect(openRungs({ ...seen, drive: { peak: { speed_kmh: 40, current_a: 80 } } }).walking).toBeNull()
  })
})
