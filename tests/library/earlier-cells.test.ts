import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { type Review, reviewSchema } from '../../shared/review.ts'
import { cellGrowth } from '../../src/history/cell-growth.ts'
import { CHANGED, toldChanges } from '../../src/history/told.ts'
import { besideEarlier } from '../../src/library/beside-earlier.ts'
import { comparisonText } from '../../src/library/command-text.ts'
import { compareDrives } from '../../src/library/compare-drives.ts'
import { earlierDrives, withEarlierCells } from '../../src/library/earlier-cells.ts'
import { otherDrivesOf } from '../../src/library/library.ts'
import { openPlace } from '../../src/library/place.ts'
import { storeDrive } from '../../src/library/store-drive.ts'
import { reviewDrive } from '../../src/review/review.ts'
import type { Fault } from '../simulator/faults.ts'
import { simulate } from '../simulator/simulate.ts'

const dir = mkdtempSync(join(tmpdir(), 'aftermile-growth-'))
afterAll(() => rmSync(dir, { recursive: true, force: true }))
const log = join(dir, 'a.csv')
writeFileSync(log, 'time,current\n0,1\n')

/** The same cells (seed 31) on another road, warmer or colder, with this fault. */
function drive(
  faults: readonly Fault[],
  kind: 'mixed' | 'urban',
  startC: number,
  startedAt: string | null = null,
) {
  const made = simulate({
    seed: 31,
    faults,
    car: { name: 'Juniper', heat: { startC, ambientC: startC - 2 } },
    route: { kind, durationS: 260 },
  })
  const clock = { offset_s: 0, drift_ppm: 0, plus_minus_s: 0, found_from: 'one log', steps: [] }
  const files = [
    { name: 'a.csv', sha256: `${kind} ${startC}`, layout: 'wide CSV', rows: 2600, skipped: [], clock },
  ]
  const whole = { ...made.drive, files, startedAt }
  return { drive: whole, review: reviewDrive(whole, made.vehicle), vehicle: made.vehicle }
}

const joint = (mohm: number): Fault => ({ kind: 'joint', cell: 41, ohm: mohm / 1000 })
const before = drive([joint(0.4)], 'mixed', 12, '2031-05-01T08:00:00Z')
const after = drive([joint(0.5)], 'urban', 24, '2031-05-09T08:00:00Z')
const plain = drive([], 'mixed', 24)
const slight = drive([{ kind: 'joint', cell: 60, ohm: 0.00006 }], 'urban', 10)

const of = (growth: ReturnType<typeof cellGrowth>, cell: number) =>
  growth!.cells.find((each) => each.cell === cell)!

describe('growth between two drives of a car', () => {
  it('of a joint is told to a hundredth of a milliohm, other road and other warmth taken out', () => {
    const growth = cellGrowth(before.review, after.review)
    const own = of(growth, 41)
    expect(own.certain).toBe(true)
    expect(Math.abs(own.changeMohm - 0.1)).toBeLessThan(Math.min(own.plusMinus, 0.02))
    expect(own.plusMinus).toBeLessThan(0.03)
    expect(growth!.typicalMohm[1]).toBeLessThan(0.9 * growth!.typicalMohm[0])
    expect(growth!.smallestMohm).toBeLessThan(0.05)
    expect(growth!.cells.filter((each) => each.certain).map((each) => each.cell)).toEqual([41])
  })

  it('turned round is as much lost: a joint remade shows', () => {
    const there = of(cellGrowth(before.review, after.review), 41)
    const back = of(cellGrowth(after.review, before.review), 41)
    expect(back.changeMohm).toBeCloseTo(-there.changeMohm, 2)
    expect(back.certain).toBe(true)
  })

  it('of a drive with itself is nothing', () => {
    for (const each of cellGrowth(after.review, after.review)!.cells)
      expect(each.changeMohm).toBeCloseTo(0, 9)
  })

  it('of cells like their peers is held by its interval about 19 times in 20', () => {
    const { cells } = cellGrowth(plain.review, slight.review)!
    const held = cells.filter(
      (each) => Math.abs(each.changeMohm - (each.cell === 60 ? 0.06 : 0)) <= each.plusMinus,
    )
    expect(held.length / cells.length).toBeGreaterThan(0.88)
    expect(cells.filter((each) => each.certain).map((each) => each.cell)).toEqual([60])
  })

  it('is not given where the drives measure over other time scales, or without cells', () => {
    const slow: Review = {
      ...after.review,
      cells: after.review.cells.map((each) => ({ ...each, resistance_window_s: 8 })),
    }
    expect(cellGrowth(before.review, slow)).toBeNull()
    expect(cellGrowth({ ...before.review, cells: [] }, after.review)).toBeNull()
  })
})

describe('the review of a kept drive', () => {
  const place = openPlace(mkdtempSync(join(dir, 'place-')))
  const keep = (each: ReturnType<typeof drive>, title: string): string =>
    storeDrive(place, { ...each, logs: [{ path: log, name: 'a.csv' }], title }).id
  const first = keep(before, 'first drive')
  keep(after, 'second drive')

  it('says what a known joint gained since the last drive, in its finding, its question and its cell', () => {
    expect(
      earlierDrives(place, otherDrivesOf(place, 'Juniper', after.review, undefined), after.review).map(
        ({ name }) => name,
      ),
    ).toEqual(['first drive of 2031-05-01 08:00'])
    const review = besideEarlier(place, 'Juniper', after.review)
    const found = review.findings.find((each) => each.kind === 'joint-resistance-high')!
    expect(found.reason).toMatch(
      /Since first drive of 2031-05-01 08:00 it gained 0\.(08|09|1[01])\d ± 0\.0\d\d mΩ/,
    )
    const asked = review.questions.find((each) => each.question === CHANGED)!
    expect(asked.state).toBe('found')
    expect(asked.smallest_seen).toBeLessThan(0.06)
    const changes = review.findings.filter((each) => each.kind === 'changed-since-last-drive')
    expect(changes.map((each) => [each.subject.index, each.explained_by])).toEqual([[41, found.id]])
    expect(Math.abs(changes[0]!.value! - 0.1)).toBeLessThan(changes[0]!.plus_minus!)
    expect(review.cells[40]!.growth_mohm).toBeCloseTo(0.1, 1)
    expect(review.history!.drives).toEqual([
      {
        ...{ car: 'Juniper', title: 'first drive', started_at: '2031-05-01T08:00:00Z' },
        files: [{ name: 'a.csv', sha256: 'mixed 12' }],
      },
    ])
    expect(() => reviewSchema.parse(review)).not.toThrow()
    expect(besideEarlier(place, 'Juniper', after.review)).toEqual(review)
  })

  it('a growth that is no finding yet is a note of its own, and opens no box by itself', () => {
    const { findings } = toldChanges(slight.review, [{ review: plain.review, name: 'a drive' }])
    expect(findings.map(({ subject }) => subject.index)).toEqual([60])
    const [found] = findings
    expect(found!.severity).toBe('note')
    expect(found!.next_step).toMatch(/^Compare again after the next drive/)
    expect(found!.low!).toBeLessThan(0.06)
    expect(found!.high!).toBeGreaterThan(0.06)
  })

  it('what was mended begins anew: no change is told against the drives before', () => {
    const mended = new Map([[41, 1]])
    const { findings } = toldChanges(after.review, [{ review: before.review, name: 'first drive' }], mended)
    expect(findings).toEqual([])
  })

  it('compares with an earlier drive only: not with a later one, another car, or the same logs', () => {
    expect(
      earlierDrives(place, otherDrivesOf(place, 'Juniper', before.review, undefined), before.review),
    ).toEqual([])
    expect(
      earlierDrives(place, otherDrivesOf(place, 'Teasel', after.review, undefined), after.review),
    ).toEqual([])
    expect(
      earlierDrives(place, otherDrivesOf(place, undefined, after.review, undefined), after.review),
    ).toEqual([])
    const again = earlierDrives(place, otherDrivesOf(place, 'Juniper', slight.review, first), slight.review, {
      addedAt: '2000-01-01T00:00:00Z',
    })
    expect(again).toEqual([])
    expect(withEarlierCells(before.review, [])).toBe(before.review)
  })

  it('`library compare` says it in words', () => {
    const text = comparisonText('first', 'second', compareDrives(before.review, after.review))
    expect(text).toMatch(/Cell 41, gained .*change 0\.(08|09|1)\d* ± 0\.0/)
    expect(text).toMatch(/would have shown 9 times in 10/)
  })
})
