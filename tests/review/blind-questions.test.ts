import { describe, expect, it } from 'vitest'
import { shownText, smallestFigure } from '../../shared/wording.ts'
import { assessed } from '../../src/facts/answer.ts'

/** Issue 12, defects 9 and 10: how small a fault would have shown, beside its limit and what was read. */
describe('a question that could not have found anything', () => {
  const asked = (value: number, found = false) =>
    assessed('heat', 'Does the coolant flow?', found, 'Read over the drive.', {
      value,
      unit: 'K',
      limit: 5,
      toAssess: 'Log the flow.',
    })

  it('is not assessed where the smallest fault that would have shown is over twice its limit', () => {
    expect(asked(19.7)).toMatchObject({
      state: 'not-assessed',
      smallest_seen: null,
      to_assess: 'Log the flow.',
    })
    expect(asked(19.7).why).toMatch(/nothing under 19\.7 K would have shown, and 5(\.0+)? K is the limit/)
    expect(asked(9.9)).toMatchObject({ state: 'nothing-found', smallest_seen: 9.9, limit: 5 })
  })

  it('stays found where it found something', () => {
    expect(asked(19.7, true).state).toBe('found')
  })
})

describe('a bare threshold', () => {
  const supply = assessed('start', 'Does the 12 V supply hold?', false, 'Watched throughout.', {
    value: 9.5,
    unit: 'V',
    limit: 10.5,
    measured: 12.4,
  })

  it('never stands alone where it could be read as what was measured', () => {
    expect(smallestFigure(supply)).toBe('9.5 V')
    const beside = shownText(supply)!
    for (const words of ['12.4', '10.5', '9.5 V', 'would have shown']) expect(beside).toContain(words)
  })
})
