import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import type { Reading } from '../../shared/reading.ts'
import { finding } from '../../src/facts/finding.ts'
import { readReadings } from '../../src/open/readings-file.ts'
import { besideReadings } from '../../src/review/beside-readings.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { openRungs } from '../../src/review/rungs.ts'
import { BLOCKED, drawnStart } from '../helpers/drawn-start.ts'

const folder = mkdtempSync(join(tmpdir(), 'aftermile-readings-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

const reading = (given: Partial<Reading>): Reading => ({
  ...{ kind: 'resistance', place: 'joint 41', value: 0.52, unit: 'mΩ', date: '2026-11-27', by: 'R. Hale' },
  ...given,
})

describe('a reading at the place of a finding', () => {
  const joint = finding({
    ...{ kind: 'joint-resistance-high', subject: { type: 'joint', index: 41 }, span_s: [0, 60] },
    ...{ value: 0.5, low: 0.45, high: 0.55, unit: 'mΩ', limit: null, headline: 'It adds.' },
    ...{ reason: 'It drops.', next_step: 'Measure it.', cautions: [], channels: [] },
  })
  const told = (given: Partial<Reading>) => besideReadings([joint], [reading(given)])

  it('stands in its reason, agrees or not, in whatever unit it was taken', () => {
    expect(told({}).readings).toMatchObject([{ finding: joint.id, says: 'agrees' }])
    expect(told({ value: 520, unit: 'µΩ' }).readings[0]!.says).toBe('agrees')
    expect(told({ value: 0.05 }).findings[0]!.reason).toContain(
      'Measured at the car: 0.05 mΩ (R. Hale, 2026-11-27), which does not agree with 0.5',
    )
    expect(told({ value: 0.05, unit: 'V' }).readings[0]!.says).toBe('noted')
    expect(told({ place: 'joint 4' }).readings).toMatchObject([{ finding: null, says: 'noted' }])
    expect(told({ place: 'behind the seat', finding: joint.id }).readings[0]!.finding).toBe(joint.id)
  })

  it('takes nothing from the finding', () => {
    const [beside] = told({ value: 0.001 }).findings
    expect(beside).toEqual({ ...joint, reason: beside!.reason })
  })
})

describe('a reading of a check', () => {
  const drive = drawnStart({ columns: { ...BLOCKED, interlock_closed: () => 0 } })
  const first = (...readings: Reading[]) => {
    const review = reviewDrive(drive, {}, readings)
    const lost = review.findings.find(({ kind }) => kind === 'no-drive')!
    return { next: lost.next_step, open: review.check_sheet.find(({ known }) => known === null)!, review }
  }
  const loop = reading({ place: 'interlock loop', value: 2, unit: 'Ω' })

  it('crosses the check off where it is as expected; finding and sheet go on to the same next one', () => {
    const before = first()
    const looked = reading({ kind: 'look', place: before.open.what, value: 1, unit: '' })
    const { next, open, review } = first(looked)
    expect(open.what).not.toBe(before.open.what)
    expect(next).toContain(open.what)
    expect(review.check_sheet.find(({ what }) => what === before.open.what)!.known).toContain('R. Hale')
  })

  it('ends the search where it is not: a loop that reads open is put right first', () => {
    expect(
      first(loop).review.check_sheet.find(({ what }) => what.startsWith('loop resistance'))!.known,
    ).toContain('as expected')
    for (const value of ['open', 4700] as const) {
      const { next, open } = first({ ...loop, value })
      expect(next).toMatch(/^Put right first: loop resistance/)
      expect(open.what).toMatch(/^Put right: loop resistance/)
    }
  })
})

describe('isolation and contactors read at the car by a named person (the safety page, second rung)', () => {
  const walking = (readings: Reading[]) =>
    openRungs({
      findings: [],
      questions: reviewDrive(drawnStart(), {}).questions.filter(({ area }) => area === 'pedal'),
      starts: [{ span_s: [0, 9], reached: 'driving', steps: [], first_failed: null, lost_s: null }],
      drive: { started_at: '2026-11-27T10:00:00', peak: { speed_kmh: 20, current_a: 80 } },
      readings,
      packV: 400,
    }).walking
  const isolation = reading({ kind: 'isolation', place: 'pack + to body', value: 2, unit: 'MΩ' })
  const link = reading({ kind: 'voltage', place: 'link, contactors open', value: 3, unit: 'V' })

  it('stand for what the log does not assess, if taken after the drive and past the limit (500 Ω/V, UN R100 5.1.3)', () => {
    expect(walking([])).toContain('isolation, the contactors')
    expect(walking([isolation, link])).not.toContain('isolation')
    expect(walking([isolation, link])).not.toContain('contactors')
    expect(walking([{ ...isolation, value: 199, unit: 'kΩ' }, link])).toContain('isolation')
    expect(walking([isolation, { ...link, value: 61 }])).toContain('contactors')
    expect(walking([{ ...isolation, date: '2026-11-20' }, link])).toContain('isolation')
  })
})

describe('a file of readings', () => {
  const file = (text: string): string => {
    const path = join(folder, 'readings.json')
    writeFileSync(path, text)
    return path
  }

  it('is a list, bare or named', () => {
    expect(readReadings(file(JSON.stringify([reading({})])))).toEqual([reading({})])
    expect(readReadings(file(JSON.stringify({ readings: [reading({})] })))).toEqual([reading({})])
  })

  it('that is wrong is told by entry and field', () => {
    const said = (text: string) => () => readReadings(file(text))
    expect(said('{}')).toThrow(/holds no list of readings; each with kind, place/)
    expect(said(JSON.stringify([reading({}), reading({ date: 'today' })]))).toThrow(
      /reading 2, field date: .*2026-11-27/,
    )
    expect(said(JSON.stringify([{ ...reading({}), by: undefined }]))).toThrow(/reading 1, field by/)
    expect(said('[')).toThrow(/no JSON/)
  })
})
