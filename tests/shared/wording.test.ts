import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import type { Finding, Question } from '../../shared/review.ts'
import { VERSION } from '../../shared/version.ts'
import {
  clockText,
  figureText,
  lengthText,
  numberText,
  smallestText,
  subjectText,
  withInterval,
} from '../../shared/wording.ts'

describe('numbers for people', () => {
  it('keep three digits and drop idle zeros', () => {
    expect([0.0512, 3.4, 412.4, 18240, -0.5, 0, 10, 100].map((value) => numberText(value))).toEqual([
      '0.0512',
      '3.4',
      '412',
      '18240',
      '−0.5',
      '0',
      '10',
      '100',
    ])
    expect(numberText(null)).toBe('–')
    expect(numberText(Number.NaN)).toBe('–')
  })

  it('are rounded as their interval allows', () => {
    expect(withInterval(0.51234, 0.061, 'mΩ')).toBe('0.512 ± 0.061 mΩ')
    expect(withInterval(1234.5, 98, 'Wh')).toBe('1235 ± 98 Wh')
    expect(withInterval(-3.2, null, 'mV')).toBe('−3.2 mV')
    expect(withInterval(null, 1, 'V')).toBe('no figure')
    expect(withInterval(-0.001, 0.48, 'N·m')).toBe('0.00 ± 0.48 N·m')
  })
})

it('times read as a clock', () => {
  expect([0, 7.24, 754, 3723, 59.97].map((at) => clockText(at))).toEqual([
    '0:00',
    '0:07',
    '12:34',
    '1:02:03',
    '1:00',
  ])
  expect(clockText(59.97, true)).toBe('1:00.0')
  expect(clockText(-7.2, true)).toBe('−0:07.2')
  expect([0.12, 48.3, 720, 3900].map(lengthText)).toEqual(['0.12 s', '48 s', '12 min', '1 h 5 min'])
})

it('findings and questions say their figure, bound and chance', () => {
  const finding = { value: 0.5, plus_minus: 0.06, unit: 'mΩ', bound: 'at-least' } as Finding
  expect(figureText(finding)).toBe('at least 0.500 ± 0.060 mΩ')
  expect(subjectText({ type: 'joint', index: 41, between_cells: [40, 41] })).toBe(
    'joint read with cell 41, between cells 40 and 41',
  )
  expect(subjectText({ type: 'cell-pair', index: 7 })).toBe('cells 7 and 8')
  const question = { smallest_seen: 0.12, unit: 'mΩ', chance: 0.9 } as Question
  expect(smallestText(question)).toBe('0.12 mΩ would have shown 9 times in 10')
  expect(smallestText({ ...question, chance: 0.95 })).toBe('0.12 mΩ would have shown 95 times in 100')
  expect(smallestText({ ...question, smallest_seen: null })).toBeNull()
})

it('the printed version is the package’s', () => {
  const json = JSON.parse(readFileSync(join(import.meta.dirname, '../../package.json'), 'utf8'))
  expect(VERSION).toBe(json.version)
})
