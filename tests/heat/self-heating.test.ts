import { describe, expect, test } from 'vitest'
import type { Vehicle } from '../../shared/vehicle.ts'
import { selfHeating } from '../../src/heat/questions/self-heating.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

const vehicle: Vehicle = {
  pack: {
    capacity_ah: 60,
    sensors_of_module: [
      [1, 2],
      [3, 4],
      [5, 6],
      [7, 8],
    ],
    cooling_group_of_module: ['plate', 'plate', 'plate', 'plate'],
  },
}

/** Twenty minutes at a second each: driven until 600 s, then at rest; °C of each module by its own formula. */
function rested(celsius: (module: number, restS: number) => number, restA = 0.4, sensors = 2) {
  const timeS = Float64Array.from({ length: 1200 }, (_, i) => i)
  const columns: Record<string, Float64Array> = {
    pack_current: timeS.map((t) => (t < 600 ? (Math.floor(t / 20) % 2 === 0 ? 90 : -20) : restA)),
  }
  for (let module = 1; module <= 4; module++)
    for (let k = 0; k < sensors; k++)
      columns[`module_temperature.${sensors * (module - 1) + k + 1}`] = timeS.map(
        (t) => Math.round((30 + celsius(module, Math.max(0, t - 600)) + 0.1 * k) * 2) / 2,
      )
  return driveFromColumns(timeS, columns)
}

const answer = (drive: ReturnType<typeof rested>, car: Vehicle = vehicle) =>
  selfHeating(gatherFacts(drive, car))

describe('a module that warms by itself', () => {
  test.each([1.3, 2, 4])('at %s K a minute is a stop, with the words of the safety page', (kelvinMin) => {
    const { findings, questions } = answer(rested((module, s) => (module === 3 ? (kelvinMin * s) / 60 : 0)))
    expect(findings.map(({ kind, severity, subject }) => [kind, severity, subject.index])).toEqual([
      ['self-heating', 'stop', 3],
    ])
    expect(Math.abs(findings[0]!.value! - kelvinMin)).toBeLessThanOrEqual(findings[0]!.plus_minus! + 0.01)
    expect(findings[0]!.next_step).toContain('people away')
    expect(findings[0]!.headline).toContain('still rising')
    expect(questions[0]!.state).toBe('found')
  })

  test('is told without a vehicle file too', () => {
    const { findings } = answer(
      rested((module, s) => (module === 3 ? (2 * s) / 60 : 0)),
      {},
    )
    expect(findings.map(({ kind, subject }) => [kind, subject.type])).toEqual([
      ['self-heating', 'temperature-sensor'],
    ])
  })

  test('heat that soaks outwards after a hard drive is none: 1.1 K/min at first, dying away', () => {
    // contract: up to 1.1 K/min by physics alone, falling from the first minute; here with 150 s, as two stores do
    const soak = (s: number): number => (1.1 / 60) * 150 * (1 - Math.exp(-s / 150))
    expect(answer(rested((module, s) => (module === 2 ? soak(s) : 0.7 * soak(s)))).findings).toEqual([])
    expect(answer(rested((module, s) => (module === 2 ? soak(s) : 0))).findings).toEqual([])
  })

  test('a group that rises alike is warmed from outside', () => {
    expect(answer(rested((_, s) => (1.5 * s) / 60)).findings).toEqual([])
  })

  test('warming while charging, over a twentieth of the capacity, is not judged here', () => {
    const { findings, questions } = answer(rested((module, s) => (module === 3 ? (2 * s) / 60 : 0), -12))
    expect(findings).toEqual([])
    expect(questions[0]!.state).toBe('not-assessed')
  })

  test('one sensor alone, without a falling cell, is not enough', () => {
    const one: Vehicle = { pack: { capacity_ah: 60, sensors_of_module: [[1], [2], [3], [4]] } }
    expect(
      answer(
        rested((module, s) => (module === 3 ? (2 * s) / 60 : 0), 0.4, 1),
        one,
      ).findings,
    ).toEqual([])
  })
})
