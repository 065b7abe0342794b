import { describe, expect, test } from 'vitest'
import { coolant } from '../../src/analyses/coolant.ts'
import { gatherFacts } from '../../src/analyses/run-all.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

/**
 * Twenty minutes of 0 to 200 A from a 100 mΩ pack; the coolant leaves warmer by heat over (flow · c).
 * Heat balance Q = ṁ·c·ΔT: any heat-transfer textbook; c of half water, half glycol 3.5 kJ/(kg·K), from memory.
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
