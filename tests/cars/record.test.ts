import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { carAnswerSchema } from '../../shared/car-answer.ts'
import { carAnswer } from '../../src/cars/answer.ts'
import { runCar } from '../../src/cars/command.ts'
import { openCar } from '../../src/cars/open-car.ts'
import { writeDeed } from '../../src/cars/work.ts'
import { retest } from '../../src/history/retest.ts'
import { showDrive } from '../../src/library/library.ts'
import { carDir } from '../../src/library/paths.ts'
import { openPlace } from '../../src/library/place.ts'
import { attachedPath } from '../../src/library/record/attached.ts'
import { changeRecord, readRecord } from '../../src/library/record/car-record.ts'
import { exitStatus } from '../../src/review/review.ts'
import { keptDrive } from '../helpers/car-drives.ts'

const dir = mkdtempSync(join(tmpdir(), 'aftermile-cars-'))
afterAll(() => rmSync(dir, { recursive: true, force: true }))
const place = openPlace(dir)
const ID = 'joint-resistance-high/joint-9'
const joint = (mohm: number) => [{ kind: 'joint', cell: 9, ohm: mohm / 1000 }] as const
const first = keptDrive(place, joint(1.6), '2031-05-01T08:00:00Z')

async function said(...args: string[]): Promise<string> {
  let text = ''
  const values = {
    data: dir,
    by: 'R. Hale',
    date: '2031-05-03',
    before: '1.6',
    after: '0.08',
    reason: 'bolt replaced',
  }
  await runCar(args, values, (part) => {
    text += part
  })
  return text
}

const mended = () =>
  writeDeed(place, openCar(place, 'Juniper'), ID, {
    ...{ state: 'mended', at: '2031-05-03', by: 'R. Hale', reason: 'bolt replaced', drive: null },
    before: { value: 1.6, unit: 'mΩ' },
    after: { value: 0.08, unit: 'mΩ' },
  } as const)

describe('a car’s record', () => {
  it('accepted or mended takes nothing from a stop: review, exit status, line and weight stay', async () => {
    expect(first.review.findings.find(({ id }) => id === ID)!.severity).toBe('stop')
    const before = readFileSync(join(dir, 'drives', first.id, 'current'), 'utf8')
    const text = await said('Juniper', 'accepted', ID)
    mended()
    const now = showDrive(place, first.id)
    expect(now.review).toEqual(JSON.parse(JSON.stringify(first.review)))
    expect(exitStatus(now.review)).toBe(1)
    expect(readFileSync(join(dir, 'drives', first.id, 'current'), 'utf8')).toBe(before)
    expect(text).toContain(first.review.verdict.sentence)
    expect(text).toMatch(/Stop: .*\(in the last drive; accepted\)/)
    const answer = carAnswerSchema.parse(JSON.parse(JSON.stringify(carAnswer(openCar(place, 'Juniper')))))
    expect(answer.verdict?.sentence).toBe(first.review.verdict.sentence)
    expect(answer.findings[0]).toMatchObject({ id: ID, severity: 'stop', state: 'mended', stands: true })
  })

  it('a mended joint is looked for in the next drive: smaller, or not seen any more with what would have shown', async () => {
    const half = keptDrive(place, joint(0.7), '2031-05-04T08:00:00Z', 22)
    const smaller = carAnswer(openCar(place, 'Juniper')).findings.find(({ id }) => id === ID)!
    expect(smaller.retests.map(({ state }) => state)).toEqual(['smaller'])
    expect(smaller.retests[0]!.change).toBeGreaterThan(-0.95)
    expect(smaller.retests[0]!.change).toBeLessThan(-0.85)
    const none = keptDrive(place, [], '2031-05-09T08:00:00Z')
    const line = carAnswer(openCar(place, 'Juniper')).findings.find(({ id }) => id === ID)!
    expect(line.stands).toBe(false)
    expect(line.retests.map(({ drive, state }) => [drive, state])).toEqual([
      [half.id, 'smaller'],
      [none.id, 'not-seen'],
    ])
    const [, gone] = line.retests
    expect(gone!.sentence).toMatch(/^Not seen any more; 0\.\d+ mΩ would have shown\. It reads /)
    expect(gone!.smallest_seen).toBeGreaterThan(0.1)
    expect(gone!.smallest_seen).toBeLessThan(0.4)
    expect(gone!.change! + 1.6).toBeLessThan(gone!.plus_minus! + 0.02)
    expect(gone!.change! + 1.6).toBeGreaterThan(-gone!.plus_minus! - 0.02)
    // the later drives' own words and the drive that was mended are both in the terminal's text
    const text = await said('Juniper')
    expect(text).toContain('mended on 2031-05-03 by R. Hale: bolt replaced (1.6 mΩ before, 0.08 mΩ after)')
    expect(text).not.toMatch(/\bsafe\b|no fault/)
  })

  it('says that it was not looked for where the later drive cannot tell', () => {
    const finding = first.review.findings.find(({ id }) => id === ID)!
    const blind = {
      ...first.review,
      findings: [],
      cells: [],
      questions: first.review.questions.map((each) =>
        each.question === finding.question
          ? { ...each, state: 'not-assessed' as const, why: 'the current hardly moved' }
          : each,
      ),
    }
    const told = retest(finding, first.review, blind)
    expect(told.state).toBe('not-looked-for')
    expect(told.sentence).toContain('the current hardly moved')
    expect(retest(finding, first.review, first.review)).toMatchObject({ state: 'same', change: 0 })
  })

  it('keeps readings, files byte for byte, notes, and each version of the vehicle file', async () => {
    const photo = join(dir, 'photo.jpg')
    writeFileSync(photo, Buffer.from([0xff, 0xd8, 0xff, 0, 1, 2, 3]))
    await said('Juniper', 'attach', photo)
    await said('Juniper', 'reading', 'joint', 'cells 40 and 41', '0.08', 'mΩ')
    await said('Juniper', 'note', 'Bolt M6 replaced, busbar cleaned')
    const record = readRecord(place, 'Juniper')
    expect(record.readings).toEqual([
      {
        ...{ kind: 'joint', place: 'cells 40 and 41', value: 0.08, unit: 'mΩ' },
        ...{ date: '2031-05-03', by: 'R. Hale' },
      },
    ])
    expect(readFileSync(attachedPath(place, 'Juniper', 1).path)).toEqual(readFileSync(photo))
    expect(record.notes[0]!.text).toContain('Bolt M6')
    // three drives with one and the same vehicle file
    expect(record.vehicles).toHaveLength(1)
    await expect(said('Juniper', 'mended', 'no-such/thing')).rejects.toThrow(/has a finding/)
    await expect(runCar(['Juniper', 'note', 'x'], { data: dir }, () => {})).rejects.toThrow(/--by NAME/)
    await expect(runCar(['Juniper', 'accepted', ID], { data: dir, by: 'R. Hale' }, () => {})).rejects.toThrow(
      /accepted with a reason/,
    )
  })

  it('never writes over a record that it cannot read', () => {
    const path = join(carDir(place, 'Sorrel'), 'record.json')
    changeRecord(place, 'Sorrel', (record) => record)
    expect(existsSync(path)).toBe(true)
    for (const bad of ['{"version": 1, "car":', '{"version": 9}']) {
      writeFileSync(path, bad)
      expect(() => changeRecord(place, 'Sorrel', (record) => record)).toThrow(/damaged|newer version/)
      expect(readFileSync(path, 'utf8')).toBe(bad)
    }
  })
})
