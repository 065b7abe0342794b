import { describe, expect, it } from 'vitest'
import { lamps } from '../../src/brake/questions/lamps.ts'
import { selectorMoves } from '../../src/brake/questions/selector-moves.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'
import { judge } from '../studies/rest/family.ts'
import { lampFamily } from '../studies/rest/lamps.ts'

const timeS = Array.from({ length: 1200 }, (_, i) => i / 10)
/** Four presses of 4 s, so gentle that nothing slows by more than 0.3 m/s². */
const pressed = (t: number): number => (t % 30 >= 10 && t % 30 < 14 ? 1 : 0)
const drawn = (columns: Record<string, (t: number) => number>) => {
  const all: Record<string, (t: number) => number> = { speed: () => 40, brake_switch: pressed, ...columns }
  return gatherFacts(
    driveFromColumns(timeS, Object.fromEntries(Object.entries(all).map(([id, at]) => [id, timeS.map(at)]))),
    {},
  )
}
const found = (columns: Record<string, (t: number) => number>) => lamps(drawn(columns)).findings

describe('lamps', () => {
  // UN R13-H, 2018 text: with the brake pedal pressed the lamp is lit whatever the deceleration
  it('dark under a pressed pedal is a stop, however gently the car slows', () => {
    expect(found({ brake_lamp: (t) => (t < 60 ? pressed(t) : 0) })).toMatchObject([
      { kind: 'lamp-disagrees', severity: 'stop', subject: { name: 'brake' } },
    ])
  })

  it('dark where the witnesses of the brake do not agree, or lit without cause, is attention', () => {
    const bar = (t: number): number => (t < 60 && pressed(t) ? 8 : 1.5 * pressed(t))
    expect(found({ brake_lamp: (t) => (t < 60 ? pressed(t) : 0), brake_pressure: bar })).toMatchObject([
      { severity: 'attention' },
    ])
    expect(found({ brake_lamp: (t) => (t > 75 && t < 95 ? 1 : pressed(t)) })).toMatchObject([
      { severity: 'attention', headline: expect.stringContaining('lit without cause') },
    ])
  })

  it('a late one is said; one that flickers in two presses is told', () => {
    const late = lamps(drawn({ brake_lamp: (t) => pressed(t - 0.5) }))
    expect(late.findings).toEqual([])
    expect(late.questions[0]!.why).toContain('Usually lit 0.5 s after')
    const flickers = (t: number): number => (pressed(t) && t % 1 < 0.7 ? 1 : 0)
    expect(found({ brake_lamp: flickers })).toMatchObject([
      { severity: 'attention', headline: expect.stringContaining('flickers') },
    ])
  })

  it('a late lamp that shows a short release in the next press does not flicker', () => {
    const brake_switch = (t: number): number =>
      t % 30 >= 10 && t % 30 < 16 && !(t % 30 >= 12 && t % 30 < 12.4) ? 1 : 0
    expect(found({ brake_switch, brake_lamp: (t) => brake_switch(t - 0.7) })).toEqual([])
  })

  it('the reverse lamp against the selector', () => {
    const selector = (t: number): number => (t > 20 && t < 40 ? -1 : 1)
    const lamp = (t: number): number => (t > 20 && t < 25 ? 1 : 0)
    expect(found({ selector, reverse_lamp: lamp, speed: () => 0 })).toMatchObject([
      { kind: 'lamp-disagrees', severity: 'attention', subject: { name: 'reverse' } },
    ])
    expect(lamps(drawn({})).questions.map(({ missing }) => missing)).toEqual([
      ['brake_lamp'],
      ['reverse_lamp', 'selector'],
    ])
  })

  it.each(['first', 'second'] as const)('ill and healthy on the %s simulator’s car', (model) => {
    expect(judge(lampFamily, lampFamily.draw(model, 1, true), true)).toMatchObject({
      found: true,
      false: [],
      broke: [],
    })
  })
})

describe('the selector', () => {
  const asked = (columns: Record<string, (t: number) => number>) => selectorMoves(drawn(columns)).findings
  it('moved at speed: into reverse attention, into neutral a note, shunting nothing', () => {
    const into = (place: number) => (t: number) => (t > 30 && t < 34 ? place : 1)
    expect(asked({ selector: into(-1) })).toMatchObject([
      { kind: 'selector-moved', severity: 'attention', value: 40 },
    ])
    expect(asked({ selector: into(0) })).toMatchObject([{ severity: 'note' }])
    expect(asked({ selector: into(-1), speed: () => 4 })).toEqual([])
  })

  it('a car that goes the other way than its selector says', () => {
    const selector = (t: number): number => (t < 80 ? 1 : -1)
    const motor_speed = (t: number): number => (t > 50 && t < 60 ? -1500 : t < 80 ? 1500 : -1500)
    expect(asked({ selector, motor_speed, speed: (t) => (t > 78 ? 3 : 15) })).toMatchObject([
      { kind: 'direction-against-selector', severity: 'attention' },
    ])
    // a motor speed without sign says nothing
    expect(asked({ selector, motor_speed: () => 1500, speed: (t) => (t > 78 ? 3 : 15) })).toEqual([])
  })

  it('is not assessed without selector or speed', () => {
    expect(selectorMoves(drawn({})).questions.map(({ missing }) => missing)).toEqual([
      ['selector'],
      ['selector'],
    ])
  })
})
