import { expect, it } from 'vitest'
import { visible, visibleAll, visibleName } from '../../shared/visible.ts'
import { failure, LogError } from '../../src/errors.ts'
import { answerOf } from '../../src/server/errors.ts'
import { csvField } from '../../src/tables/table-csv.ts'

it('what a terminal obeys is shown as what it is, what people read stays', () => {
  expect(visible('a\u001b[31mred\u0007\n\tb\u202e\u009b')).toBe(
    'a<U+001B>[31mred<U+0007>\n\tb<U+202E><U+009B>',
  )
  expect(visibleName('Speed\nPack [V]')).toBe('Speed<U+000A>Pack [V]')
  expect(visible('Zellspannung 7 [°C] µΩ ä 電圧')).toBe('Zellspannung 7 [°C] µΩ ä 電圧')
  expect(visibleAll({ '\u0007': ['\u2066x', 1, null] })).toEqual({ '<U+0007>': ['<U+2066>x', 1, null] })
  expect(failure(new LogError('x', 'bad\u001b]0;t\u0007.csv'), false).text).toBe(
    'bad<U+001B>]0;t<U+0007>.csv\n',
  )
})

it('a spreadsheet takes no text of the table for a formula, and numbers stay numbers', () => {
  for (const text of ['=1+1', '+cmd', '-2+3', '@SUM(A1)', '  =1', '\t=1', '-cell'])
    expect(csvField(text)[0]).toMatch(/['"]/)
  for (const text of ['-1.5', '+2', '1e-7', '-3.2e+5', '0.5', '']) expect(csvField(text)).toBe(text)
})

it('the server’s sentences hold no path of this machine', () => {
  const { sentence } = answerOf(
    new LogError('x', '/home/anna/.local/share/aftermile/incoming/1/2: is empty.'),
  )
  expect(sentence).toBe('a file: is empty.')
  const full = answerOf(Object.assign(new Error("ENOSPC: write '/srv/x/y'"), { code: 'ENOSPC' }))
  expect(full).toMatchObject({ status: 507, sentence: expect.stringContaining('the disk is full') })
  expect(full.sentence).not.toContain('/srv')
})
