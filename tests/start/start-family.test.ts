import { describe, expect, it } from 'vitest'
import { Random } from '../simulator/random.ts'
import { answerOf, dishonest, falseAlarms, pairsOf } from '../studies/start.ts'
import { disagreements } from '../studies/start-agreement.ts'
import { AT_START, familyCase, LAYOUTS, WHILE_DRIVING, withoutChannels } from '../studies/start-family.ts'

/** A part of the study `npm run study:start`, small enough for every test run; it asks for 98 % as the study does. */
describe('each step broken, alone and with another, on four kinds of log', () => {
  const layouts = Object.keys(LAYOUTS)
  /** Every single step, and every n-th pair. */
  const some = (steps: readonly string[], n: number): string[][] =>
    pairsOf(steps).filter((broken, i) => broken.length === 1 || i % n === 0)

  it('names the first failed step at the start in at least 98 of 100', () => {
    const cases = some(AT_START, 3).map((broken, i) =>
      familyCase(11 + (i % 3), layouts[i % 4]!, 'start', broken),
    )
    const wrong = cases
      .filter((each) => !answerOf(each).right)
      .map((each) => `${each.name}: ${answerOf(each).said}`)
    expect(wrong.length, wrong.join('\n')).toBeLessThanOrEqual(cases.length * 0.02)
  })

  it('verdict, first step told, check sheet and first_failed agree, with the vehicle file and without', () => {
    const cases = [
      ...some(AT_START, 9).map((broken, i) => familyCase(41 + (i % 3), layouts[i % 4]!, 'start', broken)),
      ...some(WHILE_DRIVING, 9).map((broken, i) => familyCase(51, layouts[i % 4]!, 'driving', broken)),
    ]
    const apart = cases.flatMap((each, i) =>
      disagreements(each.drive, i % 2 === 0 ? each.vehicle : {}).map((what) => `${each.name}: ${what}`),
    )
    expect(apart).toEqual([])
  })

  it('names what changed first when drive is lost', () => {
    const cases = some(WHILE_DRIVING, 4).map((broken, i) =>
      familyCase(21, layouts[i % 4]!, 'driving', broken),
    )
    const wrong = cases
      .filter((each) => !answerOf(each).right)
      .map((each) => `${each.name}: ${answerOf(each).said}`)
    expect(wrong.length, wrong.join('\n')).toBeLessThanOrEqual(cases.length * 0.02)
  })

  it('accuses nothing that cannot be seen with half of the channels gone', () => {
    const wrong = some(AT_START, 4).flatMap((broken, i) => {
      const each = familyCase(31, layouts[i % 4]!, 'start', broken)
      return dishonest(each, withoutChannels(each.drive, new Random(i), 0.5)).map(
        (what) => `${each.name}: ${what}`,
      )
    })
    expect(wrong).toEqual([])
  })

  it('says nothing above a note on healthy drives, whole, without vehicle file and with half of the channels', () => {
    expect([1, 2, 3].flatMap((seed) => falseAlarms(seed))).toEqual([])
  })
})
