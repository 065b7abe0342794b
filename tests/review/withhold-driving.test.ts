import { expect, it } from 'vitest'
import type { Finding, Question } from '../../shared/review.ts'
import { assessed, notAssessed } from '../../src/facts/answer.ts'
import { toDrive } from '../../src/facts/drive-advice.ts'
import { finding } from '../../src/facts/finding.ts'
import { withholdDriving } from '../../src/review/withhold-driving.ts'

const advice = toDrive('a few stops', 'after five of them')
const asked = notAssessed('energy', 'Does it?', [], 'too gentle', advice)
const seen = (['pedal', 'brake', 'isolation', 'start'] as const).map((area) =>
  assessed(area, area, false, ''),
)
const stop: Finding = finding({
  kind: 'pedal-mismatch',
  subject: { type: 'pedal' },
  span_s: [0, 1],
  value: 20,
  unit: 'points',
  limit: null,
  severity: 'stop',
  headline: 'The tracks differ.',
  reason: '',
  next_step: '',
  channels: [],
})
const left = (questions: readonly Question[], findings: readonly Finding[]): Question =>
  withholdDriving(questions, findings)[0]!

it('names place, company and end where nothing speaks against driving', () => {
  expect(left([asked, ...seen], []).to_assess).toBe(advice)
  expect(advice).toMatch(/closed place.*second person.*end after five/)
})

it('leaves it out, and says so, while a finding says stop', () => {
  expect(left([asked, ...seen], [stop]).to_assess).toBeNull()
  expect(left([asked, ...seen], [stop]).why).toContain('The tracks differ.')
})

it('leaves it out while accelerator, brake, isolation or contactors are unassessed', () => {
  expect(left([asked, ...seen.slice(1)], []).to_assess).toBeNull()
  expect(left([asked, ...seen.slice(1)], []).why).toContain('the accelerator')
})

it('keeps what to log in any case', () => {
  const log = { ...asked, to_assess: 'Log torque.' }
  expect(left([log], [stop]).to_assess).toBe('Log torque.')
})
