import { describe, expect, test } from 'vitest'
import { NOTICE, type Review } from '../../shared/review.ts'
import { finding } from '../../src/facts/finding.ts'
import { threeLines, toText } from '../../src/report/text.ts'
import { finishAgain } from '../../src/review/finish.ts'
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
const review: Review = finishAgain({ ...base, findings: [joint(3, 0.5), joint(7, 0.4)] })
const short = toText(review)
const full = toText(review, { full: true })
const plain = (text: string): string => text.replace(/\s+/g, ' ')

describe('the short text', () => {
  test('says beside the verdict where a log was read in part', () => {
    const cut = (what: string, count = 1) => {
      const [file] = base.drive.files
      const files = [{ ...file!, skipped: [{ what, count, first: 'line 9' }] }]
      return plain(toText({ ...review, drive: { ...review.drive, files } }))
    }
    const rest = 'was read in part: the gzip data breaks off (line 9).'
    expect(cut('the rest of the file: the gzip data breaks off')).toContain(rest)
    expect(cut('rows whose time cannot be read', 1e6)).toContain(
      '1000000 rows whose time cannot be read left out',
    )
    expect(cut('rows whose time cannot be read')).not.toContain('in part')
    expect(cut('frames that no signal explains: 0x1F0', 1e6)).not.toContain('in part')
  })

  test('begins with the verdict’s own sentence and what must be known before touching the car', () => {
    const at = (text: string): number => plain(short).indexOf(plain(text))
    expect(at(review.verdict.sentence)).toBeGreaterThan(0)
    for (const each of review.verdict.before_touching) {
      expect(at(each)).toBeGreaterThan(at(review.verdict.sentence))
      expect(at(each)).toBeLessThan(at('ATTENTION'))
    }
  })

  test('tells a finding in at most six lines: headline, figure with limit and place, next step, caution by name', () => {
    const blocks = short.split('\n\n').filter((block) => block.startsWith('ATTENTION'))
    expect(blocks).toHaveLength(2)
    for (const block of blocks) expect(block.split('\n').length).toBeLessThanOrEqual(6)
    expect(plain(blocks[0]!)).toContain('0.500 ± 0.050 mΩ; limit 0.15 mΩ; joint read with cell 3; from 0:00')
    expect(blocks[0]).toContain('Next: Measure it with a micro-ohm meter.')
    expect(blocks[0]).toContain('! Modules stay live.')
  })

  test('holds each caution in full once, and one line each for what was asked and not told', () => {
    expect(plain(short).split(LIVE)).toHaveLength(2)
    expect(short).toMatch(/Asked, and nothing found: \d+ of \d+ questions/)
    expect(short).toMatch(/Not assessed: \d+ questions/)
    expect(short.split('\n').length).toBeLessThan(35)
  })

  test('says what a finding explains beneath it, in one line, unless it keeps a line of its own', () => {
    const [cause, other] = review.findings
    const beneath = { ...other!, explained_by: cause!.id }
    const limit = { ...beneath, id: 'x', kind: 'cell-voltage-limit' as const, headline: 'Cell 3 read 4.3 V' }
    const text = toText(finishAgain({ ...review, findings: [cause!, beneath, limit] }))
    expect(text).toContain('explains: The joint behind cell 7 adds resistance')
    expect(plain(text)).toContain('ATTENTION Cell 3 read 4.3 V.')
    expect(plain(text)).toContain('explained by joint read with cell 3')
  })

  test('a sample is three lines', () => {
    const lines = threeLines(review, 'sample juniper').trimEnd().split('\n')
    expect(lines).toHaveLength(3)
    expect(lines[1]).toContain(review.verdict.sentence)
  })
})

describe('the full text', () => {
  test('findings come first, with figure, interval, limit and its source', () => {
    expect(full.indexOf('NEEDS ATTENTION')).toBeLessThan(full.indexOf('NOT ASSESSED'))
    expect(plain(full)).toContain('0.500 ± 0.050 mΩ; limit 0.15 mΩ (common practice, no source)')
    expect(full).toContain('2 needing attention')
  })

  test('a caution stands in full once and is said again, short, wherever it holds', () => {
    expect(plain(full).split(LIVE)).toHaveLength(2)
    expect(plain(full).split('! Modules stay live with the service plug out')).toHaveLength(3)
  })

  test('every question is told once, and the notice closes the text', () => {
    for (const question of base.questions.filter(({ state }) => state !== 'found'))
      expect(plain(full).split(question.question).length, question.question).toBeGreaterThan(1)
    expect(plain(full).trimEnd().endsWith(plain(NOTICE).trim())).toBe(true)
    expect(plain(short).trimEnd().endsWith(plain(NOTICE).trim())).toBe(true)
  })
})

test('no line is wider than asked for, single long words aside', () => {
  for (const width of [80, 100, 120])
    for (const each of [{ width }, { width, full: true }])
      for (const line of toText(review, each).split('\n'))
        if (line.trim().includes(' ')) expect(line.length, line).toBeLessThanOrEqual(width)
})

test('a drive of which too little was assessed says so in its first sentence', () => {
  expect(plain(short).indexOf('nothing of the start')).toBeGreaterThan(0)
  expect(plain(short).indexOf('nothing of the start')).toBeLessThan(plain(short).indexOf('ATTENTION'))
})
