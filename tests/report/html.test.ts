import { describe, expect, it } from 'vitest'
import { NOTICE, type Review } from '../../shared/review.ts'
import { toHtml } from '../../src/report/html.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { smallDrive } from '../helpers/small-drive.ts'

const drive = smallDrive()
const base = reviewDrive(drive, {})
const finding: Review['findings'][number] = {
  ...{ id: 'temperature-limit/cell-3', explained_by: null, also: [], question: null },
  ...{ kind: 'temperature-limit', severity: 'stop', subject: { type: 'cell', index: 3 }, span_s: [10, 20] },
  ...{ onset_s: 10, value: 3.2, unit: 'V', low: 3.1, high: 3.3, plus_minus: 0.1, bound: 'exact', limit: 3.5 },
  ...{
    limit_source: 'vehicle file <pack>',
    headline: 'Cell 3 fell low',
    reason: 'Because.',
    next_step: 'Measure it.',
  },
  ...{ cautions: ['Modules stay live.'], rivals: [] },
  evidence: { channels: ['cell_voltage.3', 'pack_current', 'not_there'], span_s: [10, 20] },
}
const review: Review = { ...base, findings: [finding, { ...finding, severity: 'note', headline: 'A note' }] }
const html = toHtml(review, drive, { title: 'Teasel & co', notes: 'Seen <by> me' })

describe('the hand-over sheet', () => {
  it('needs nothing but itself: no script, no link, no address', () => {
    expect(html).not.toMatch(/<script|<link|<img|url\(|https?:|src=/)
    expect(html.startsWith('<!doctype html>')).toBe(true)
  })

  it('tells the whole on its first page and numbers the printed ones', () => {
    const first = html.slice(0, html.indexOf('<h2>'))
    expect(first).toContain('Cell 3 fell low')
    expect(first).toMatch(/\d+ questions asked: \d+ with a finding, \d+ without one\. (Not|Every)/)
    expect(html).toMatch(/counter\(page\) " of " counter\(pages\)/)
    // A name cannot break out of the style sheet.
    expect(toHtml(review, drive, { title: 'a"} </style><b>' })).not.toContain('"a"}')
  })

  it('says notice, version, hash, what was found, asked and not assessed', () => {
    expect(html.split(NOTICE.slice(0, 40)).length).toBe(3)
    expect(html).toContain('Aftermile 0.1.0')
    expect(html).toContain('a'.repeat(64))
    expect(html.indexOf('Speaks against handing over')).toBeLessThan(html.indexOf('Worth knowing'))
    expect(html).toContain('3.20 ± 0.10 V')
    expect(html).toContain('Not assessed')
    for (const question of base.questions.filter(({ state }) => state === 'not-assessed'))
      expect(html).toContain(question.question.replaceAll("'", '&#39;'))
    expect(html).not.toMatch(/\bsafe\b/i)
  })

  it('draws the evidence with its limit, a chart a unit', () => {
    expect(html.match(/<svg /g)!.length).toBeGreaterThanOrEqual(4)
    expect(html).toContain('limit 3.5')
  })

  it('takes text as text', () => {
    expect(html).toContain('Teasel &#38; co')
    expect(html).toContain('Seen &#60;by&#62; me')
    expect(html).toContain('vehicle file &#60;pack&#62;')
  })

  it('is the same bytes for the same review', () => {
    expect(toHtml(review, drive, { title: 'Teasel & co', notes: 'Seen <by> me' })).toBe(html)
  })

  it('prints in grey: no colours but greys in its style', () => {
    for (const [, hex] of html.matchAll(/#([0-9a-f]{3}|[0-9a-f]{6})\b(?!;)/gi)) {
      const parts = hex!.length === 3 ? [...hex!] : hex!.match(/../g)!
      expect(new Set(parts).size, `#${hex}`).toBe(1)
    }
  })
})
