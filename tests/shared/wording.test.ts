import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import type { Finding, Question } from '../../shared/review.ts'
import { VERSION } from '../../shared/version.ts'
import {
  clockText,
  figureText,
  firstSentence,
  fixedText,
  lengthText,
  numberText,
  onceInFull,
  placesOf,
  smallestFigure,
  startedText,
  stepsText,
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
  expect(smallestFigure(question)).toBe('0.12 mΩ')
  expect(smallestFigure({ ...question, chance: 0.95 })).toBe('0.12 mΩ, 95 times in 100')
  expect(smallestFigure({ ...question, unit: '' })).toBe('0.12 times')
  expect(smallestFigure({ ...question, smallest_seen: null })).toBeNull()
})

it('the printed version is the package’s', () => {
  const json = JSON.parse(readFileSync(join(import.meta.dirname, '../../package.json'), 'utf8'))
  expect(VERSION).toBe(json.version)
})

it('a caution stands in full once; after that its first clause stands for it', () => {
  const said = new Set<string>()
  const live = 'Modules stay live with the service plug out; only people qualified for live work.'
  expect(onceInFull(live, said)).toBe(live)
  expect(onceInFull(live, said)).toBe('Modules stay live with the service plug out (in full above).')
  expect(onceInFull('Wear gloves.', said)).toBe('Wear gloves.')
  expect(onceInFull('Wear gloves.', said)).toBe('Wear gloves.')
})

it('steps of a start are told by what became of them, in plain words', () => {
  const steps = [
    { name: 'supply', held: true },
    { name: 'key', held: true },
    { name: 'precharge', held: false },
    { name: 'ready', held: null },
  ]
  expect(stepsText(steps)).toBe('FAILED: precharge. Held: 12 V supply, key on. Not seen: drive ready.')
})

it('a column of figures shares its decimals: three digits of the largest', () => {
  const column = [61.64, 0.786, null, -3.2]
  const places = placesOf(column)
  expect(column.map((value) => fixedText(value, places))).toEqual(['61.6', '0.8', '–', '−3.2'])
  expect(placesOf([0, null])).toBe(0)
})

it('the first sentence ends at its own full stop, not at a decimal point', () => {
  expect(firstSentence('Measure 0.5 mΩ there. If it reads high: clean it.')).toBe('Measure 0.5 mΩ there.')
  expect(firstSentence('No stop at all')).toBe('No stop at all')
})

it('a beginning is told to the minute, with its zone', () => {
  expect(startedText('2031-03-07T16:42:05.000Z')).toBe('2031-03-07 16:42 UTC')
  expect(startedText('2031-03-07T16:42:05+01:00')).toBe('2031-03-07 16:42 UTC+01:00')
  expect(startedText('2031-03-07T16:42:05')).toBe('2031-03-07 16:42')
  expect(startedText(null)).toBeNull()
})
