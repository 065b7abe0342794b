import { describe, expect, it } from 'vitest'
import { releasedReading } from '../../src/pedal/questions/released-reading.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { PEDAL_ENDS, pedalDrive } from '../helpers/pedal-drive.ts'

/** Presses for 4 s, brakes for 3 s, twenty times. */
const pressed = (s: number): number => (s % 8 < 4 ? 40 * Math.sin((Math.PI * (s % 8)) / 4) : 0)
const bar = (s: number): number => (s % 8 > 4.5 && s % 8 < 7.5 ? 15 : 0)
const rolling = {
  speed: (): number => 40,
  torque: (s: number): number => 2 * pressed(s) - bar(s),
  brake_pressure: bar,
}

function ask(one: (s: number) => number, two: (s: number) => number, without: readonly string[] = []) {
  const more: Record<string, (s: number) => number> = { ...rolling }
  for (const id of without) delete more[id]
  const drive = pedalDrive({
    hz: 50,
    seconds: 160,
    first: (s) => pressed(s) + one(s),
    second: (s) => pressed(s) + two(s),
    more,
  })
  return releasedReading(gatherFacts(drive, { pedal: PEDAL_ENDS }))
}
const none = (): number => 0
/** Slow drift of a supply: from 40 s on, over 80 s. */
const drift =
  (points: number) =>
  (s: number): number =>
    points * Math.max(0, Math.min(1, (s - 40) / 80))

// The rule is the contract's: a released reading that moves over 2 points in a drive, both tracks alike included.
describe('the released accelerator', () => {
  it('both tracks move alike: what they share', () => {
    const [found] = ask(drift(4), drift(4)).findings
    expect(found?.kind).toBe('pedal-rest-moves')
    expect(found?.severity).toBe('attention')
    expect(found?.value).toBeCloseTo(4, 0)
    expect(found?.subject.index).toBeUndefined()
    expect(found?.reason).toMatch(/supply or ground/)
  })

  it('one track moves: it is named', () => {
    const [found] = ask(none, drift(-3)).findings
    expect(found?.subject.index).toBe(2)
    expect(found?.value).toBeCloseTo(3, 0)
  })

  it.each([
    ['nothing moves', none],
    ['1.5 points of play', (s: number) => (s % 8 < 4 ? 0 : 1.5)],
    ['1.5 points of drift', drift(1.5)],
    ['a left foot on the brake, twice', (s: number) => (s > 60 && s < 76 ? 6 : 0)],
    ['both pedals pressed, often', (s: number) => (s % 16 > 12 ? 30 : 0)],
  ] as const)('%s is no finding', (_, move) => {
    const { questions, findings } = ask(move, move)
    expect(findings).toEqual([])
    expect(questions[0]?.state).toBe('nothing-found')
    expect(questions[0]?.smallest_seen).toBeGreaterThan(2)
  })

  it('without the brake nothing says that the foot is off', () => {
    const { questions } = ask(drift(4), drift(4), ['brake_pressure'])
    expect(questions[0]?.state).toBe('not-assessed')
    expect(questions[0]?.why).toMatch(/brake/)
  })
})
