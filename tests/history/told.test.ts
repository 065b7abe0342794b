import { describe, expect, it } from 'vitest'
import type { Question, Review } from '../../shared/review.ts'
import type { CarFile } from '../../src/cars/open-car.ts'
import { openQuestions, wishesOf } from '../../src/cars/papers/wishes.ts'
import { CHANGED, toldChanges, toldUnlike, UNLIKE } from '../../src/history/told.ts'
import { Random } from '../simulator/random.ts'

/** A review of 48 cells in four modules, drawn: own differences go with warmth, joints do not; reading errors 4 µΩ. */
function drawn(car: number, drive: number, warmth: number, joint: ReadonlyMap<number, number>): Review {
  const build = new Random(500 + car)
  const read = new Random(900 + 40 * car + drive)
  const cells = Array.from({ length: 48 }, (_, k) => {
    const own = 1.5 * (1 + 0.02 * build.normal())
    const metal = 0.008 * build.normal() + (joint.get(k + 1) ?? 0)
    return {
      ...{ index: k + 1, module: 1 + Math.floor(k / 12), between_cells: [k + 1, k + 2], class: 'healthy' },
      resistance_mohm: own * warmth + metal + 0.004 * read.normal(),
      ...{ resistance_mohm_repeats: 0.008, resistance_window_s: 1, joint_extra_mohm: 0 },
    }
  })
  return {
    ...{ cells, modules: [], precharge: [], isolation: null, pedal: null, regen: null },
    energy: { wh_per_km: 150 + 8 * read.normal(), wh_per_km_plus_minus: 2 },
    drive: { duration_s: 600 },
  } as unknown as Review
}
const other = (review: Review, name: string) => ({ review, name })
const WARMTH = [1.1, 1, 1.25, 0.95, 1.15, 1.05]

describe('drive to drive', () => {
  it('a joint that grows 0.02 mΩ a drive is told on the drive where it is beyond chance, none other', () => {
    const drives = WARMTH.map((warmth, at) => drawn(1, at, warmth, new Map([[17, 0.02 * at]])))
    const told = drives.map((review, at) =>
      toldChanges(
        review,
        drives.slice(0, at).map((each, n) => other(each, `drive ${n + 1}`)),
      ).findings.map(({ subject }) => subject.index),
    )
    expect(new Set(told.flat())).toEqual(new Set([17]))
    expect(told[0]).toEqual([])
    expect(told[5]).toEqual([17])
    const { findings, questions } = toldChanges(
      drives[5]!,
      drives.slice(0, 5).map((each) => other(each, 'x')),
    )
    expect(Math.abs(findings[0]!.value! - 0.1)).toBeLessThan(0.03)
    expect(findings[0]).toMatchObject({
      kind: 'changed-since-last-drive',
      severity: 'note',
      question: CHANGED,
    })
    expect(questions[0]!.smallest_seen).toBeGreaterThan(0.01)
  })

  it('a healthy car is told nothing, warm and cold mixed; what was mended begins anew', () => {
    const drives = WARMTH.map((warmth, at) => drawn(2, at, warmth, new Map([[5, at < 3 ? 0.4 : 0]])))
    const earlier = drives.slice(0, 5).map((each) => other(each, 'x'))
    expect(toldChanges(drives[5]!, earlier).findings.map(({ subject }) => subject.index)).toEqual([5])
    expect(toldChanges(drives[5]!, earlier, new Map([[5, 3]])).findings).toEqual([])
  })
})

describe('car to car', () => {
  const kit = Array.from({ length: 12 }, (_, n) =>
    drawn(10 + n, 0, WARMTH[n % 6]!, new Map(n === 3 ? [[8, 0.4]] : n === 9 ? [[40, 0.4]] : [])),
  )
  const unlike = (n: number) =>
    toldUnlike(
      kit[n]!,
      'Hedge',
      kit.flatMap((each, at) => (at === n ? [] : [other(each, `car ${at}`)])),
    )

  it('in a kit of twelve the two odd cars are named, with their cells, none other', () => {
    const told = kit.map((_, n) => unlike(n).findings.map(({ subject }) => subject.index))
    expect(told.map((each) => each.length > 0)).toEqual(kit.map((_, n) => n === 3 || n === 9))
    expect([told[3], told[9]]).toEqual([[8], [40]])
    expect(unlike(3).findings[0]!.reason).toMatch(/^Place 1 of 12 cars of the kit Hedge/)
  })

  it('with three others it says how little that tells, and accuses nothing', () => {
    const few = toldUnlike(
      kit[3]!,
      'Hedge',
      kit.slice(0, 3).map((each) => other(each, 'x')),
    )
    expect(few.findings).toEqual([])
    expect(few.questions[0]).toMatchObject({ question: UNLIKE, state: 'not-assessed' })
    expect(few.questions[0]!.why).toMatch(
      /only 3 other cars of the kit Hedge: a place among so few says little/,
    )
  })
})

describe('what to log next', () => {
  const open = (question: string, more: Partial<Question>): Question =>
    ({ question, state: 'not-assessed', missing: [], why: '', to_assess: null, ...more }) as Question
  const drive = (...questions: Question[]) => ({ review: { questions } })
  const file = (...drives: unknown[]) => ({ drives }) as unknown as CarFile

  it('asks for the channel that closes most, and never to drive where only an earlier drive said so', () => {
    const road = open('Heat?', { rung: 'road', to_assess: 'Drive under load' })
    const torque = { missing: ['torque'], to_assess: 'Log torque at 20 Hz' }
    const asked = [
      open('A?', torque),
      open('B?', torque),
      open('C?', { missing: ['soc'], to_assess: 'Log charge' }),
    ]
    const wishes = wishesOf(file(drive(road, ...asked)))
    expect(wishes.map(({ channels }) => channels)).toEqual([['torque'], ['soc'], []])
    expect(wishes[0]!.closes).toEqual(['A?', 'B?'])
    expect(wishes[2]!.how).toEqual(['Drive under load.'])
    const later = file(drive(road, ...asked), drive(...asked))
    expect(openQuestions(later).map(({ question }) => question)).toContain('Heat?')
    expect(JSON.stringify(wishesOf(later))).not.toContain('Drive under load')
    expect(openQuestions(file(drive(road), drive({ ...road, state: 'nothing-found' })))).toEqual([])
  })
})
