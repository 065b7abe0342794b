import { describe, expect, test } from 'vitest'
import type { RunawayWay } from './faults.ts'
import { Runaways } from './runaway.ts'
import { simulateSecond } from './second/simulate-second.ts'
import { simulate } from './simulate.ts'

const WAYS: readonly RunawayWay[] = [
  'stuck',
  'with-brake',
  'rising',
  'coasting',
  'beyond-request',
  'opposite',
]
const inside = (timeS: number, { fromS, toS }: { fromS: number; toS: number }): boolean =>
  timeS > fromS + 1 && timeS < toS - 0.5

describe('torque that nobody asked for comes in its way and goes', () => {
  test.each(WAYS)('%s, both models', (way) => {
    const faults = [{ kind: 'runaway', way, nm: 32, atS: 40, lenS: 5 }] as const
    const first = simulate({ seed: 4, faults, route: { kind: 'urban', durationS: 150 } })
    const second = simulateSecond({
      seed: 4,
      faults,
      road: { durationS: 150, phases: [0] },
      build: { functions: { creep: way === 'rising' } },
    })
    for (const [made, at, stepS] of [
      [first, first.trace.at, 0.01],
      [second, second.run.at, 0.02],
    ] as const) {
      const spell = made.truth.runaways[0]
      // the first model's driver never rolls with both feet off at walking pace
      if (!spell && way === 'rising' && made === first) continue
      expect(spell).toBeDefined()
      expect(spell!.toS - spell!.fromS).toBeCloseTo(5, 6)
      const torque = at.torque!
      const request = at.torque_request!
      let seen = 0
      for (let i = 0; i < torque.length; i++) {
        if (!inside(i * stepS, spell!) || at.speed![i]! < 5) continue
        seen++
        if (way === 'with-brake' || way === 'rising' || way === 'coasting') expect(request[i]).toBe(32)
        if (way === 'stuck') expect(request[i]).toBeGreaterThanOrEqual(32)
      }
      expect(seen).toBeGreaterThan(10)
    }
  })

  test('a request that does not show it: beyond it, and the other way round', () => {
    const felt = { timeS: 5, ready: true, travel: 0.3, bar: 0, kmh: 40, request: 50 }
    const make = (way: RunawayWay): Runaways =>
      new Runaways([{ kind: 'runaway', way, nm: 20, atS: 1, lenS: 3 }])
    expect(make('beyond-request').step(0.01, felt)).toEqual({ request: 50, aim: 70 })
    expect(make('opposite').step(0.01, felt)).toEqual({ request: 50, aim: -50 })
    expect(make('stuck').step(0.01, felt)).toEqual({ request: 50, aim: 50 })
  })

  test('it ends, and comes once', () => {
    const runs = new Runaways([{ kind: 'runaway', way: 'coasting', nm: 20, atS: 1, lenS: 3 }])
    const felt = { ready: true, travel: 0, bar: 0, kmh: 50, request: -5 }
    const seen = Array.from({ length: 1000 }, (_, i) => runs.step(0.01, { ...felt, timeS: i * 0.01 }).request)
    expect(seen.filter((nm) => nm === 20).length).toBeCloseTo(300, -1)
    expect(runs.spells).toHaveLength(1)
    expect(seen.at(-1)).toBe(-5)
  })
})
