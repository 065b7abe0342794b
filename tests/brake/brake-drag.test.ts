import { describe, expect, test } from 'vitest'
import { braking } from '../../src/brake/questions/braking.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { brakeDrive } from '../helpers/brake-drive.ts'

/** The car of the test is Newton's own: what is put in as deceleration after a release is what must be read. */
const drag = (clingsMs2: number) => {
  const { findings, questions } = braking(gatherFacts(brakeDrive({ clingsMs2, stops: 10 }), {}))
  return {
    found: findings.find(({ kind }) => kind === 'brake-drag'),
    question: questions.find(({ question }) => question.includes('let go'))!,
  }
}

describe('pads that do not let go', () => {
  test('0.6 m/s² left in the five seconds after each release is found; its figure is a lower bound', () => {
    const { found } = drag(0.6)
    expect(found).toMatchObject({ severity: 'note', bound: 'at-least' })
    expect(found!.value!).toBeGreaterThan(0.25)
    expect(found!.value! - found!.plus_minus!).toBeLessThan(0.6)
  })

  test('brakes that let go are not accused', () => {
    const { found, question } = drag(0)
    expect(found).toBeUndefined()
    expect(question.state).toBe('nothing-found')
  })
})
