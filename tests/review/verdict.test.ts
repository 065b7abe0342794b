import { describe, expect, it } from 'vitest'
import { AREAS } from '../../shared/kinds.ts'
import type { Charge, Finding, Question, Start } from '../../shared/review.ts'
import { assessed, notAssessed } from '../../src/facts/answer.ts'
import { finding } from '../../src/facts/finding.ts'
import { nameQuestions } from '../../src/review/name-questions.ts'
import { inOrder, withIds } from '../../src/review/order.ts'
import { verdictOf } from '../../src/review/verdict.ts'

/** States, their order and what the sentence names: the contract's `verdict`. */
const all: Question[] = AREAS.map((area) => assessed(area, `Is ${area} sound?`, false, ''))
const blind: Question[] = all.map((each) =>
  each.area === 'start' ? notAssessed('start', each.question, [], '', null) : each,
)
const says = (
  kind: Finding['kind'],
  severity: Finding['severity'],
  subject: Finding['subject'],
  headline: string,
) =>
  finding({
    ...{ kind, severity, subject, headline, span_s: [5, 9], value: 1, unit: '', limit: null },
    ...{ reason: '', next_step: '', channels: [] },
  })
const joint = says('joint-resistance-high', 'stop', { type: 'joint', index: 4 }, 'Joint 4 adds 1.4 mΩ.')
const noDrive = says('no-drive', 'stop', { type: 'start-step', name: 'precharge' }, 'No drive.')
const cooling = says('module-cooling-poor', 'attention', { type: 'module', index: 2 }, 'Module 2 stays hot.')
const start = (lost_s: number | null): Start => ({
  ...{ span_s: [0, 9], reached: 'driving', steps: [], first_failed: null, lost_s },
})
const verdict = (findings: Finding[], questions = all, starts: Start[] = []) =>
  verdictOf(
    { findings: inOrder(withIds(findings)), questions, starts, charges: [], drive: { distance_km: 12 } },
    [],
  )

describe('a log in which nobody starts the car', () => {
  const rest = (charges: Charge[], drive = { distance_km: 0 }) =>
    verdictOf({ findings: [], questions: all, starts: [], charges, drive }, [])
  const charge: Charge = { ...{ span_s: [0, 9], reached: 'charging', steps: [], first_failed: null } }

  it('concludes nothing on a start that is not in it, and says what it shows', () => {
    expect(rest([])).toMatchObject({
      state: 'too-little-assessed',
      sentence: 'Too little was assessed to conclude: the log shows no start and no drive.',
    })
    expect(rest([charge]).sentence).toBe(
      'Too little was assessed to conclude: the log shows a charge and no start.',
    )
  })

  it('a log that begins in mid drive shows a car that could drive', () => {
    expect(rest([], { distance_km: 3 }).state).toBe('nothing-found')
  })
})

describe('the verdict', () => {
  it.each<[string, Finding[], Question[], string[], RegExp]>([
    ['nothing-found', [], all, [], /^Nothing was found in the 8 questions that this log answers\.$/],
    [
      'too-little-assessed',
      [],
      blind,
      [],
      /^Too little was assessed to conclude: nothing of the start could be seen/,
    ],
    [
      'attention',
      [cooling],
      blind,
      ['too-little-assessed'],
      /^Needs attention: Module 2 stays hot; nothing of the start/,
    ],
    ['stop', [cooling, joint], all, ['attention'], /^Speaks against handing over: Joint 4 adds 1\.4 mΩ\.$/],
    [
      'cannot-drive',
      [noDrive],
      all,
      ['stop'],
      /^The car cannot drive: precharge is the first step of the start that failed\.$/,
    ],
    [
      'cannot-drive',
      [noDrive, joint],
      all,
      ['stop'],
      /precharge .*; against handing over speaks too: Joint 4/,
    ],
  ])('%s', (state, findings, questions, also, sentence) => {
    expect(verdict(findings, questions)).toMatchObject({
      state,
      also,
      sentence: expect.stringMatching(sentence),
    })
  })

  it('drive lost for good cannot drive; drive that came back can', () => {
    const lost = says('drive-lost', 'stop', { type: 'start-step', name: 'interlock' }, 'Drive was lost.')
    expect(verdict([lost], all, [start(5)]).state).toBe('cannot-drive')
    expect(verdict([lost], all, [start(null)]).state).toBe('stop')
  })

  it('what can hurt the person stands before touching, and only where it says stop', () => {
    const weld = says('contactor-welded', 'stop', { type: 'contactor' }, 'A pair of contactors conducts.')
    expect(verdict([weld]).before_touching).toEqual([
      expect.stringMatching(/^A pair of contactors conducts\. Isolate/),
    ])
    expect(verdict([{ ...weld, severity: 'attention' }]).before_touching).toEqual([])
  })
})

describe('findings of one review', () => {
  it('have ids that are told apart, and stand beneath their cause, which is ranked by the worst it explains', () => {
    const first = { ...joint, severity: 'attention' as const }
    const limit = says('cell-voltage-limit', 'stop', { type: 'cell', index: 4 }, 'Cell 4 passed 4.2 V.')
    const [a, b] = withIds([first, first])
    expect([a!.id, b!.id]).toEqual(['joint-resistance-high/joint-4', 'joint-resistance-high/joint-4/2'])
    const below = { ...limit, explained_by: a!.id }
    const other = says('pedal-mismatch', 'attention', { type: 'pedal' }, 'Tracks differ.')
    expect(inOrder([other, below, a!]).map(({ id }) => id)).toEqual([a!.id, limit.id, other.id])
  })

  it('a question that is found names its finding; one that nothing tells does not stay found', () => {
    const told = assessed('pack', 'Does a joint add resistance?', true, 'w')
    const other = assessed('pack', 'Is a cell weaker than its peers?', false, 'w')
    const named = nameQuestions({ questions: [other, told], findings: [joint] })
    expect(named.findings[0]!.question).toBe(told.question)
    const silent = nameQuestions({ questions: [told], findings: [] }).questions[0]!
    expect(silent.state).toBe('not-assessed')
    expect(silent.why).toContain('something was seen')
  })
})
