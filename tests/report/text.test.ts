import { expect, test } from 'vitest'
import { NOTICE, type Review } from '../../shared/review.ts'
import { finding } from '../../src/facts/finding.ts'
import { toText } from '../../src/report/text.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { smallDrive } from '../helpers/small-drive.ts'

const LIVE = 'Modules stay live with the service plug out; only people qualified for live work.'
const joint = (index: number, value: number) =>
  finding({
    kind: 'joint-resistance-high',
    subject: { type: 'joint', index },
    span_s: [0, 60],
    value,
    low: value - 0.05,
    high: value + 0.05,
    unit: 'mΩ',
    limit: { unit: 'mΩ', attention: 0.15, stop: 1, source: 'common practice, no source' },
    headline: `The joint behind cell ${index} adds resistance`,
    reason: 'It drops more than its peers.',
    next_step: 'Measure it with a micro-ohm meter.',
    cautions: [LIVE],
    channels: [],
  })
const base = reviewDrive(smallDrive(), {})
const review: Review = { ...base, findings: [joint(3, 0.5), joint(7, 0.4)] }
const text = toText(review)

test('findings come first, with figure, interval, limit and its source', () => {
  expect(text.indexOf('NEEDS ATTENTION')).toBeLessThan(text.indexOf('NOT ASSESSED'))
  expect(text.replace(/\s+/g, ' ')).toContain('0.500 ± 0.050 mΩ; limit 0.15 mΩ (common practice, no source)')
  expect(text).toContain('2 needing attention')
})

test('a caution stands in full once and is said again, short, wherever it holds', () => {
  const plain = text.replace(/\s+/g, ' ')
  expect(plain.split(LIVE)).toHaveLength(2)
  expect(plain.split('! Modules stay live with the service plug out')).toHaveLength(3)
})

test('every question is told once, and the notice closes the text', () => {
  const plain = text.replace(/\s+/g, ' ')
  for (const question of base.questions.filter(({ state }) => state !== 'found'))
    expect(plain.split(question.question).length, question.question).toBeGreaterThan(1)
  expect(plain.trimEnd().endsWith(NOTICE.replace(/\s+/g, ' ').trim())).toBe(true)
})

test('no line is wider than asked for, single long words aside', () => {
  for (const width of [80, 100, 120])
    for (const line of toText(review, { width }).split('\n'))
      if (line.trim().includes(' ')) expect(line.length, line).toBeLessThanOrEqual(width)
})

test('a drive of which too little was assessed says so before its findings', () => {
  expect(text.indexOf('Too little was assessed to conclude: nothing of start')).toBeGreaterThan(0)
  expect(text.indexOf('Too little was assessed')).toBeLessThan(text.indexOf('NEEDS ATTENTION'))
})
