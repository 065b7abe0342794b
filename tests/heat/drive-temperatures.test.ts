import { describe, expect, test } from 'vitest'
import { driveHeat } from '../../src/heat/models/drive-heat.ts'
import { driveTemperatures } from '../../src/heat/questions/drive-temperatures.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

const SECONDS = 1500
const timeS = Float64Array.from({ length: SECONDS }, (_, i) => i)
/** A minute of 150 A, a minute of 30 A, in turn: mean square 11 700 A². */
const amperes = timeS.map((t) => (Math.floor(t / 60) % 2 ? 30 : 150))
const MEAN_SQUARE = (150 ** 2 + 30 ** 2) / 2

/**
 * C·dT/dt = k·I² − (T − 20)/Rth with k·Rth = 2.5 K per (100 A)², solved in closed form minute by minute (the lumped
 * capacity of any heat-transfer textbook: T = T∞ + (T₀ − T∞)·e^(−t/τ)); read to a tenth of a kelvin.
 */
function warmed(tauS: number, kelvin: number): Float64Array {
  const out = new Float64Array(SECONDS)
  let from = 20
  for (let minute = 0; minute < SECONDS / 60; minute++) {
    const aim = 20 + kelvin * (amperes[minute * 60]! / 100) ** 2
    for (let s = 0; s < 60 && minute * 60 + s < SECONDS; s++)
      out[minute * 60 + s] = aim + (from - aim) * Math.exp(-s / tauS)
    from = aim + (from - aim) * Math.exp(-60 / tauS)
  }
  return out.map((celsius) => Math.round(celsius * 10) / 10)
}

type Columns = Record<string, Float64Array>
const columns = (change: Columns = {}): Columns => ({
  pack_current: amperes,
  pack_voltage: timeS.map(() => 350),
  coolant_in: timeS.map(() => 20),
  inverter_temperature: warmed(160, 12),
  motor_temperature: warmed(620, 12),
  ...change,
})
const facts = (change: Columns = {}, car = {}) =>
  gatherFacts(driveFromColumns(timeS, columns(change)), { car })

describe('inverter and motor temperature', () => {
  test('time constant, settling temperature and time to a limit are those of the closed form', () => {
    const [inverter, motor] = driveHeat(facts())
    expect(inverter!.law!.heat).toBe('current squared')
    expect(inverter!.law!.tauS / 160).toBeCloseTo(1, 1)
    expect(inverter!.law!.kelvinPerUnit).toBeCloseTo(12, 0)
    expect(motor!.law!.tauS / 620).toBeCloseTo(1, 1)
    const settles = 20 + (12 * MEAN_SQUARE) / 1e4
    expect(Math.abs(motor!.law!.settlesC - settles)).toBeLessThan(motor!.law!.settlesPlusMinusC)
    const slow = driveHeat(facts({ motor_temperature: warmed(2500, 20) }))[1]!
    const end = 20 + (20 * MEAN_SQUARE) / 1e4
    const now = slow.celsius[slow.celsius.length - 1]!
    const limit = (now + end) / 2
    const until = 2500 * Math.log((end - now) / (end - limit))
    expect(slow.law!.untilS(limit)! / until).toBeGreaterThan(0.8)
    expect(slow.law!.untilS(limit)! / until).toBeLessThan(1.25)
    expect(motor!.law!.untilS(settles + 5)).toBeNull()
  })

  test('an ordinary drive gives figures and no finding', () => {
    const answer = driveTemperatures(facts())
    expect(answer.findings).toEqual([])
    expect(answer.questions.map((question) => question.state)).toEqual(['nothing-found', 'nothing-found'])
    expect(answer.questions[0]!.why).toMatch(/Motor: rose by .* settles near .* K per \(100 A\)²/)
    expect(answer.questions[0]!.why).toMatch(/gives no limit/)
  })

  test('a sensor that stood still from the start is told by what its heat did, not by where it may have begun', () => {
    // From second 800 on it follows its law; before, it stood: under load in turns, then under an even load.
    const stood = warmed(160, 12).map((celsius, i, all) => (i < 800 ? all[800]! : celsius))
    expect(driveTemperatures(facts({ inverter_temperature: stood })).findings[0]?.kind).toBe(
      'temperature-reading-frozen',
    )
    const even = amperes.map((a, i) => (i < 800 ? Math.sqrt(MEAN_SQUARE) : a))
    const change = { pack_current: even, inverter_temperature: stood }
    expect(driveTemperatures(facts(change)).findings).toEqual([])
  })

  test('a limit of the vehicle file is held', () => {
    const loud = driveTemperatures(facts({}, { motor_temperature_max: 28 })).findings
    expect(loud.map((each) => [each.kind, each.severity, each.subject.name])).toEqual([
      ['temperature-limit', 'attention', 'motor_temperature'],
    ])
    expect(driveTemperatures(facts({}, { motor_temperature_max: 90 })).findings).toEqual([])
  })

  test('stuck from part way, and stuck from the cold, are frozen', () => {
    const stuckFrom = (id: 'inverter_temperature' | 'motor_temperature', from: number) => {
      const own = columns()[id]!
      return driveTemperatures(facts({ [id]: own.map((value, t) => (t < from ? value : own[from]!)) }))
        .findings
    }
    for (const [id, from] of [
      ['inverter_temperature', 700],
      ['motor_temperature', 400],
      ['motor_temperature', 60],
      ['inverter_temperature', 30],
    ] as const) {
      const found = stuckFrom(id, from)
      expect(found.map((each) => [each.kind, each.subject.name])).toEqual([
        ['temperature-reading-frozen', id],
      ])
      expect(found[0]!.value).toBeGreaterThan(SECONDS - from - 40)
    }
  })

  test('an open lead is invalid; a part that stays cool on a parked car is not accused', () => {
    const open = driveTemperatures(
      facts({ motor_temperature: warmed(620, 12).map((value, t) => (t > 800 ? Number.NaN : value)) }),
    ).findings
    expect(open.map((each) => [each.kind, each.severity])).toEqual([
      ['temperature-reading-invalid', 'attention'],
    ])
    const parked = driveTemperatures(
      facts({
        pack_current: timeS.map(() => 1),
        inverter_temperature: timeS.map(() => 20),
        motor_temperature: timeS.map(() => 20),
      }),
    )
    expect(parked.findings).toEqual([])
    expect(parked.questions.map((question) => question.state)).toEqual(['not-assessed', 'not-assessed'])
  })
})
