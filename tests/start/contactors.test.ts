import { describe, expect, it } from 'vitest'
import type { Finding } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { contactors } from '../../src/start/questions/contactors.ts'
import { driveLost } from '../../src/start/questions/drive-lost.ts'
import { linkVoltage } from '../../src/start/questions/link-voltage.ts'
import { type DrawnStart, drawnStart } from '../helpers/drawn-start.ts'

/** Both analyses of the contactors, one answer. */
function look(options: DrawnStart, vehicle: Vehicle = {}) {
  const facts = gatherFacts(drawnStart(options), vehicle)
  const [link, own] = [linkVoltage(facts), contactors(facts)]
  return {
    questions: [...link.questions, ...own.questions],
    findings: [...link.findings, ...own.findings],
    assumptions: own.assumptions!,
  }
}
const kinds = (found: readonly Finding[]): string[] => found.map(({ kind }) => kind)
const wave = (t: number): number => 0.3 * Math.sin(t * 831)

describe('contactors', () => {
  it('a whole start and a link that falls in time: nothing found, and never that there is no weld', () => {
    const answer = look({})
    expect(answer.findings).toEqual([])
    const weld = answer.questions.find(({ question }) => question.includes('conduct'))!
    expect(weld.state).toBe('nothing-found')
    expect(weld.why).toContain('cannot be seen')
    expect(JSON.stringify(answer)).not.toMatch(/no weld|\bsafe\b|is dead/)
  })

  /** P6: from 400 V 60 V within 5 s asks for R·C ≤ 2.6356 s (FSAE 2026 EV.7.2.2.c, textbook RC). */
  it.each([
    [2.6, []],
    [2.7, ['link-discharge-slow']],
  ])('a bleed time constant of %s s', (bleedS, found) => {
    const answer = look({ bleedS })
    expect(kinds(answer.findings)).toEqual(found)
    if (found.length > 0) expect(answer.findings[0]!.value).toBeCloseTo(2.7 * Math.log(400 / 60), 1)
  })

  it('a log that ends half a second after the key is off says nothing of the discharge', () => {
    const answer = look({ bleedS: 8, endS: 20.5 })
    expect(answer.findings).toEqual([])
    expect(answer.questions.find(({ question }) => question.includes('60 V'))!.state).toBe('not-assessed')
  })

  it('a discharge that is seen to fall by a third is carried on, by its curve', () => {
    const answer = look({ bleedS: 8, endS: 25 })
    expect(answer.findings[0]).toMatchObject({
      kind: 'link-discharge-slow',
      severity: 'attention',
      bound: 'exact',
    })
    expect(answer.findings[0]!.value).toBeCloseTo(8 * Math.log(400 / 60), 0)
  })

  it('a link at pack voltage before anything closed is a weld after 1.5 s already', () => {
    const from = (startS: number) => (t: number) => (t >= startS && t < 20 ? 1 : 0)
    const closing = {
      contactor_negative: from(2.4),
      contactor_precharge: (t: number) => (t >= 2.5 && t < 3.4 ? 1 : 0),
      contactor_positive: from(3.2),
    }
    const link = (before: number) => (t: number) =>
      (t < 2.5 ? before : t < 20 ? 400 : 400 * Math.exp(-(t - 20))) + wave(t)
    const signs = (before: number): Finding[] =>
      look({ columns: { ...closing, link_voltage: link(before) } }).findings.filter(
        ({ kind }) => kind === 'contactor-welded',
      )
    expect(signs(400)).toMatchObject([{ severity: 'stop', span_s: [0, expect.any(Number)] }])
    // Two in a hundred below the pack: what an earlier drive left, not what a contactor gives.
    expect(signs(392)).toEqual([])
  })

  it('a contactor read open while current goes on: its reading, a note, and no loss of drive', () => {
    const positive = (t: number): number => (t >= 2.2 && t < 20 && !(t >= 8 && t < 8.4) ? 1 : 0)
    const flows = {
      contactor_positive: positive,
      pack_current: (t: number) => (t >= 5 && t < 15 ? 40 + wave(t) : 0),
    }
    const { findings } = look({ columns: flows })
    expect(findings).toMatchObject([
      { kind: 'contactor-feedback-disagrees', severity: 'note', subject: { name: 'positive' } },
    ])
    const facts = gatherFacts(drawnStart({ columns: flows }), {})
    expect(driveLost(facts).findings).toEqual([])
    // The same opening with the current gone is what it says.
    const broken = { contactor_positive: positive, pack_current: (t: number) => (t >= 5 && t < 8 ? 40 : 0) }
    expect(kinds(look({ columns: broken }).findings)).toContain('contactor-opened-under-load')
  })

  it('the link stays at pack voltage with everything open: welded, stop, with bleed and back-feed as rivals', () => {
    const answer = look({
      columns: {
        link_voltage: (t) => (t < 1.4 ? 0 : t < 2.2 ? 400 * (1 - Math.exp(-(t - 1.4) / 0.1)) : 400 + wave(t)),
      },
    })
    expect(answer.findings[0]).toMatchObject({ kind: 'contactor-welded', severity: 'stop', unit: 'V' })
    expect(answer.findings[0]!.value).toBeCloseTo(400, 0)
    expect(answer.findings[0]!.rivals.map(({ kind }) => kind)).toEqual(['link-discharge-slow', 'back-feed'])
  })

  it('a link that is never seen down may be read on the battery’s side: attention, said so', () => {
    const answer = look({ columns: { link_voltage: (t) => 400 + wave(t) } })
    expect(answer.findings.filter(({ kind }) => kind === 'contactor-welded')).toMatchObject([
      { severity: 'attention', reason: expect.stringContaining('battery’s side') },
    ])
  })

  it('readings that all are equal after key off may come from a sender asleep: a note in doubt', () => {
    const answer = look({ columns: { link_voltage: (t) => (t < 1.4 ? 0 : t < 20 ? 400 + wave(t) : 400) } })
    expect(answer.findings.filter(({ kind }) => kind === 'contactor-welded')).toMatchObject([
      { severity: 'note' },
    ])
  })

  it('the link jumps up with the first main contactor alone: the other one conducts, by name', () => {
    const answer = look({
      columns: { link_voltage: (t) => (t < 1.3 ? wave(t) : t < 20 ? 400 + wave(t) : 400 * Math.exp(20 - t)) },
    })
    expect(answer.findings[0]).toMatchObject({
      kind: 'contactor-welded',
      severity: 'stop',
      subject: { name: 'positive' },
    })
  })

  it.each([
    ['with its opening in the log', 20],
    ['that ends before it opens', 40],
  ])(
    'contactors read twice a second on fast held rows: the link seems to rise before them, no weld (%s)',
    (_, offS) => {
      const during = (from: number, to: number) => (t: number) => {
        const readS = Math.floor(t * 2 + 1e-9) / 2
        return readS >= from && readS < to ? 1 : 0
      }
      const answer = look({
        columns: {
          contactor_negative: during(1.3, offS),
          contactor_precharge: during(1.55, 2.3),
          contactor_positive: during(2.3, offS),
          link_voltage: (t) =>
            t < 1.55 ? 0 : t < offS ? 400 * (1 - Math.exp(-(t - 1.55) / 0.1)) : 400 * Math.exp(offS - t),
        },
      })
      expect(kinds(answer.findings)).toEqual([])
    },
  )

  it('a slow fall is no weld', () => {
    expect(kinds(look({ bleedS: 60, endS: 40 }).findings)).toEqual(['link-discharge-slow'])
  })

  it('opening with current: the last current before it collapses, named after the contactor that opened first', () => {
    const answer = look({
      keyOffS: 10,
      columns: { key_on: (t) => (t < 1 ? 0 : 1), pack_current: (t) => (t > 5 && t < 10 ? 80 : 0) },
    })
    expect(answer.findings.find(({ kind }) => kind === 'contactor-opened-under-load')).toMatchObject({
      severity: 'stop',
      value: 80,
      unit: 'A',
    })
  })

  it('no contactor logged: the link that leaves the pack as 60 A break off within a sample is an opening', () => {
    const without = ['contactor_positive', 'contactor_negative', 'contactor_precharge', 'drive_ready']
    const link = (t: number) => (t < 1.4 ? 0 : t < 10 ? 400 : 400 * Math.exp(-(t - 10) / 2))
    const broken = look({
      without,
      columns: { link_voltage: link, pack_current: (t) => (t >= 5 && t < 10 ? 60 : 0) },
    })
    expect(broken.findings.find(({ kind }) => kind === 'contactor-opened-under-load')).toMatchObject({
      severity: 'stop',
      subject: { type: 'contactor', name: 'main' },
      value: 60,
      onset_s: expect.closeTo(10, 1),
    })
    // The driver lets go as fast, and the link stays with the pack.
    const calm = look({ without, columns: { pack_current: (t) => (t >= 5 && t < 10 ? 60 : 0) } })
    expect(kinds(calm.findings)).not.toContain('contactor-opened-under-load')
  })

  it('the current broken is that of the sample before the one that already reads open', () => {
    const open = (from: number) => (t: number) => (t >= from && t < 10 - 1e-9 ? 1 : 0)
    const answer = look({
      periodS: 0.1,
      columns: {
        contactor_positive: open(2.2),
        contactor_negative: open(1.3),
        pack_current: (t) => (t >= 5 && t < 9.95 ? 60 : t >= 9.95 && t < 10.05 ? 7 : 0),
      },
    })
    expect(answer.findings.find(({ kind }) => kind === 'contactor-opened-under-load')!.value).toBe(60)
  })

  it('key off at standstill with a heater’s 12 A is a note', () => {
    const answer = look({ columns: { pack_current: (t) => (t > 3 && t < 20 ? 12 : 0) } })
    expect(answer.findings).toMatchObject([{ kind: 'contactor-opened-under-load', severity: 'note' }])
  })

  it('command without feedback, and feedback that stays', () => {
    const asked = (t: number): number => (t >= 2.2 && t < 20 ? 1 : 0)
    const missing = look({
      columns: { contactor_positive_command: asked, contactor_positive_feedback: () => 0 },
    })
    expect(kinds(missing.findings)).toContain('contactor-feedback-disagrees')
    const stays = look({
      columns: { contactor_positive_command: asked, contactor_positive_feedback: (t) => (t >= 2.25 ? 1 : 0) },
    })
    expect(stays.findings.find(({ kind }) => kind === 'contactor-welded')).toMatchObject({
      subject: { name: 'positive' },
    })
  })

  it('a bounce is a note and does not end the start', () => {
    const answer = look({
      columns: { contactor_positive: (t) => (t < 2.2 || t >= 20 || (t > 2.25 && t < 2.29) ? 0 : 1) },
    })
    expect(answer.findings).toMatchObject([{ kind: 'contactor-bounce', severity: 'note' }])
  })
})
