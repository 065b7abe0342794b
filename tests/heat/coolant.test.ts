import { describe, expect, test } from 'vitest'
import { coolantFlow, HEAT_PER_LITRE } from '../../src/heat/models/coolant-flow.ts'
import { coolant } from '../../src/heat/questions/coolant.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'
import type { Fault } from '../simulator/faults.ts'
import { simulate } from '../simulator/simulate.ts'

/**
 * Twenty minutes of 0 to 200 A from a 100 mΩ pack; the coolant leaves warmer by heat over (flow · c).
 * Heat balance Q = ṁ·c·ΔT: any heat-transfer textbook; c of half water, half glycol 3.5 kJ/(kg·K).
 */
function loop(litresPerMinute: number) {
  const timeS = Float64Array.from({ length: 2400 }, (_, i) => i / 2)
  const current = timeS.map((t) => 100 + 100 * Math.sin(t / 7))
  const heat = current.map((a) => a * a * 0.1)
  const warmer =
    litresPerMinute === 0 ? heat.map(() => 0) : heat.map((w) => w / ((litresPerMinute / 60) * 1.05 * 3500))
  return gatherFacts(
    driveFromColumns(timeS, {
      pack_current: current,
      pack_voltage: current.map((a) => 350 - 0.1 * a),
      coolant_in: timeS.map((t) => Math.round((25 + t / 400) * 10) / 10),
      coolant_out: timeS.map((t, i) => Math.round((25 + t / 400 + (t < 40 ? 0 : warmer[i]!)) * 10) / 10),
    }),
    {},
  )
}

describe('coolant', () => {
  test('flows of 4 to 20 l/min accuse nobody', () => {
    for (const flow of [4, 6, 10, 20]) expect(coolant(loop(flow)).findings).toEqual([])
  })

  test('no warming at all, and far too much, are doubtful', () => {
    for (const flow of [0, 0.4]) {
      const answer = coolant(loop(flow))
      expect(answer.findings.map((finding) => finding.kind)).toEqual(['coolant-flow-doubtful'])
      expect(answer.findings[0]!.limit).toBeGreaterThan(0)
    }
  })

  test('without coolant channels it says what to log', () => {
    const facts = gatherFacts(driveFromColumns([0, 1, 2], { pack_current: [0, 1, 2] }), {})
    expect(coolant(facts).questions[0]).toMatchObject({
      state: 'not-assessed',
      missing: ['coolant_in', 'coolant_out', 'pack_voltage'],
    })
  })
})

/** Twenty minutes on an ordinary road, 96 cells, one loop of 420 W/K; `share` of it flows. */
const made = new Map<string, ReturnType<typeof gatherFacts>>()
function driven(faults: readonly Fault[]): ReturnType<typeof gatherFacts> {
  const key = JSON.stringify(faults)
  if (!made.has(key)) {
    const { drive, vehicle } = simulate({ seed: 31, route: { kind: 'mixed', durationS: 1200 }, faults })
    made.set(key, gatherFacts(drive, vehicle))
  }
  return made.get(key)!
}

describe('coolant flow from a heat balance', () => {
  test('a litre of half water, half glycol holds what the handbooks say', () => {
    // CoolProp 8.0.0, INCOMP::MEG-50%, 1 atm: 1064.93 kg/m³ and 3312.0 J/(kg·K) at 20 °C, 1053.44 and 3412.7 at 40 °C
    const handbook = (1.06493 * 3312.0 + 1.05344 * 3412.7) / 2
    expect(HEAT_PER_LITRE / handbook).toBeCloseTo(1, 3)
    // ASHRAE Fundamentals, 50 % by volume at 80 °F: 66.90 lb/ft³ = 1071.6 kg/m³ (1 lb = 0.45359237 kg, 1 ft = 0.3048 m)
    expect((66.9 * 0.45359237) / 0.3048 ** 3 / 1059).toBeCloseTo(1, 1)
  })

  test('the interval holds the true flow, whole and at a thirtieth', () => {
    for (const share of [1, 0.03]) {
      const { litres } = coolantFlow(driven(share === 1 ? [] : [{ kind: 'coolant-flow', share }]))!
      const truth = (420 * share * 60) / HEAT_PER_LITRE
      expect(litres.low).toBeLessThan(truth)
      expect(litres.high).toBeGreaterThan(truth)
    }
  })

  test('a thirtieth of the flow is doubtful from the start, and from the moment it began', () => {
    const whole = coolant(driven([{ kind: 'coolant-flow', share: 0.03 }])).findings
    expect(whole.map((finding) => finding.kind)).toEqual(['coolant-flow-doubtful'])
    expect(whole[0]!.value).toBeGreaterThan(3 * whole[0]!.limit!)
    const later = coolant(driven([{ kind: 'coolant-flow', share: 0.03, fromS: 600 }])).findings
    expect(later).toHaveLength(1)
    expect(later[0]!.span_s[0]).toBeGreaterThan(540)
    expect(later[0]!.span_s[0]).toBeLessThan(680)
    expect(later[0]!.limit_source).toMatch(/same drive/)
  })

  test('a healthy drive of gentle heat accuses nobody and says how wide its interval is', () => {
    const { questions, findings } = coolant(driven([]))
    expect(findings).toEqual([])
    expect(questions[0]).toMatchObject({ state: 'not-assessed' })
    expect(questions[0]!.why).toMatch(/l\/min\)/)
    expect(questions[1]!.state).toBe('nothing-found')
  })
})
