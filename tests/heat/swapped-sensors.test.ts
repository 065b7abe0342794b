import { describe, expect, test } from 'vitest'
import { moduleResistance } from '../../src/heat/models/module-resistance.ts'
import { sensorSwaps } from '../../src/heat/models/sensor-swaps.ts'
import { cooling } from '../../src/heat/questions/cooling.ts'
import { swappedSensors } from '../../src/heat/questions/swapped-sensors.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import type { Fault } from '../simulator/faults.ts'
import { simulate } from '../simulator/simulate.ts'

/** Module 3 of eight is cooled worse; two sensors a module, read in half degrees. */
const HOT: Fault = { kind: 'cooling', module: 3, factor: 3 }
const SWAPPED: readonly Fault[] = [
  { kind: 'temperature-swapped', sensors: [5, 11] },
  { kind: 'temperature-swapped', sensors: [6, 12] },
]

function driven(faults: readonly Fault[]) {
  return simulate({
    seed: 5,
    route: { kind: 'hard', durationS: 1200 },
    faults,
    car: { pack: { ohmicMohm: 1.9 } },
    style: { cellHz: 5, vehicleHz: 10, currentHz: 10 },
  })
}
const right = driven([HOT])
const wrong = driven([HOT, ...SWAPPED])

describe('sensors swapped between modules', () => {
  test('cells are thermometers: their resistance falls by Arrhenius’ law', () => {
    // R(T) = R₀ · exp(E/T − E/T₀): dR/R = −E/T² a kelvin. E = 2200 K at 20 °C: 2.56 %. Source: Arrhenius' law.
    const facts = gatherFacts(right.drive, right.vehicle)
    const { relative, parts, modules } = moduleResistance(facts)!
    const hot = modules.indexOf(3)
    const trace = right.trace.moduleC
    const meanIn = (module: number, [from, to]: readonly [number, number]): number => {
      const step = right.truth.durationS / (trace[0]!.length - 1)
      const part = trace[module]!.slice(Math.floor(from / step), Math.floor(to / step))
      return part.reduce((sum, celsius) => sum + celsius, 0) / part.length
    }
    const last = parts.length - 1
    const above = (part: number): number => {
      const all = modules.map((_, module) => meanIn(module, parts[part]!))
      return all[hot]! - all.reduce((sum, celsius) => sum + celsius, 0) / all.length
    }
    const fell = relative[hot]![0]! - relative[hot]![last]!
    // weighed by the current of the moment, and joints (2 % of the reading) do not fall with it
    expect(fell / (above(last) - above(0))).toBeGreaterThan(0.8 * (2200 / 295 ** 2))
    expect(fell / (above(last) - above(0))).toBeLessThan(1.2 * (2200 / 295 ** 2))
  })

  test('a hot module alone accuses no sensor', () => {
    const answer = swappedSensors(gatherFacts(right.drive, right.vehicle))
    expect(answer.findings).toEqual([])
    expect(answer.questions[0]!.state).toBe('nothing-found')
    expect(answer.questions[0]!.smallest_seen).toBeGreaterThan(0.5)
  })

  test('its sensors swapped with another module’s are told, and the cooling finding names them as its rival', () => {
    const facts = gatherFacts(wrong.drive, wrong.vehicle)
    const [found, ...more] = swappedSensors(facts).findings
    expect(more).toEqual([])
    expect(found).toMatchObject({ kind: 'temperature-sensor-swapped', severity: 'attention' })
    expect(found!.headline).toMatch(/modules 3 and 6/)
    const best = facts.once(sensorSwaps)!.tried[0]!
    expect(best.sensors).toEqual([
      [5, 11],
      [6, 12],
    ])
    const truth = right.trace.moduleC.map((celsius) => celsius[celsius.length - 1]! - celsius[0]!)
    expect(found!.low).toBeLessThan(truth[2]! - truth[5]!)
    expect(found!.high).toBeGreaterThan(0.7 * (truth[2]! - truth[5]!))
    for (const each of cooling(facts).findings)
      expect(each.rivals.map((rival) => rival.kind)).toContain('temperature-sensor-swapped')
  })

  test('without the vehicle file’s places, or without temperatures, it says what is missing', () => {
    const bare = [...right.drive.channels].filter(([id]) => !id.startsWith('module_temperature'))
    const answer = swappedSensors(gatherFacts({ ...right.drive, channels: new Map(bare) }, right.vehicle))
    expect(answer.questions[0]).toMatchObject({ state: 'not-assessed', missing: ['module_temperature.1'] })
  })
})
