import { describe, expect, it } from 'vitest'
import { RESTS, restCase, wrongWords } from '../studies/rest-family.ts'

/** A part of `npm run study:rests`, small enough for every test run. */
describe('charges, parked cars and keys turned for nothing accuse nobody', () => {
  it.each(RESTS)('%s, on both simulators, with the vehicle file or without', (rest) => {
    const cases = [restCase('first', rest, 1), restCase('second', rest, 2)]
    const wrong = cases.flatMap((made, i) =>
      wrongWords(i === RESTS.indexOf(rest) % 2 ? made : { ...made, vehicle: {} }).map(
        (words) => `${made.name}: ${words}`,
      ),
    )
    expect(wrong).toEqual([])
  })
})
