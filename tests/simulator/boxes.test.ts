import { describe, expect, test } from 'vitest'
import type { Box, Reading } from './boxes.ts'
import { measure, type Samples } from './measure.ts'
import { Random } from './random.ts'
import { simulate } from './simulate.ts'
import { TruthAt } from './truth-at.ts'

const { trace } = simulate({ seed: 21, route: { kind: 'mixed', durationS: 90 } })
const truth = new TruthAt(trace)

/** What one reading gives on a logger of 20 rows a second. */
function read(reading: Reading, box: Partial<Box> = {}, of = trace): Samples[] {
  return measure(of, [{ name: 'box', rowHz: 20, readings: [reading], ...box }], new Random(4))
}
const only = (reading: Reading, box: Partial<Box> = {}): Samples => read(reading, box)[0]!

describe('a box reads', () => {
  test('at its rate, on the rows of its log', () => {
    const { timeS } = only({ channels: ['pack_current'], rateHz: 5 })
    expect([...timeS.subarray(0, 4)]).toEqual([0, 0.2, 0.4, 0.6])
  })

  test('without error of its own exactly the truth', () => {
    const { timeS, values } = only({ channels: ['pack_current'], rateHz: 20 })
    expect(values).toEqual(truth.values('pack_current', timeS))
  })

  test('in steps, to the nearest', () => {
    const { values, timeS } = only({ channels: ['pack_current'], rateHz: 20, step: 0.5 })
    const exact = truth.values('pack_current', timeS)
    values.forEach((value, i) => {
      expect(value * 2).toBe(Math.round(value * 2))
      expect(Math.abs(value - exact[i]!)).toBeLessThanOrEqual(0.25 + 1e-12)
    })
  })

  test('with gain and offset: value · (1 + gain) + offset', () => {
    const { values, timeS } = only({ channels: ['pack_current'], rateHz: 20, gain: 0.02, offset: -0.7 })
    const exact = truth.values('pack_current', timeS)
    values.forEach((value, i) => {
      expect(value).toBeCloseTo(exact[i]! * 1.02 - 0.7, 12)
    })
  })

  test('with noise of the standard deviation asked for', () => {
    const { values, timeS } = only({ channels: ['pack_voltage'], rateHz: 20, noise: 0.3 })
    const exact = truth.values('pack_voltage', timeS)
    const square = values.reduce((sum, value, i) => sum + (value - exact[i]!) ** 2, 0) / values.length
    expect(Math.sqrt(square)).toBeCloseTo(0.3, 1)
  })

  test('clipped, unsigned, turned round', () => {
    const clipped = only({ channels: ['pack_current'], rateHz: 20, clip: [-20, 60] }).values
    expect(Math.max(...clipped)).toBe(60)
    expect(Math.min(...clipped)).toBe(-20)
    const plain = only({ channels: ['pack_current'], rateHz: 20 }).values
    expect(only({ channels: ['pack_current'], rateHz: 20, unsigned: true }).values).toEqual(
      plain.map(Math.abs),
    )
    expect(only({ channels: ['pack_current'], rateHz: 20, turned: true }).values[800]).toBe(-plain[800]!)
  })

  test('cells one after the other: the first is the oldest by the whole scan but one cell', () => {
    const cells = ['cell_voltage.1', 'cell_voltage.2', 'cell_voltage.3', 'cell_voltage.4']
    const scanned = read({ channels: cells, rateHz: 10, scanS: 0.4 })
    const { timeS } = scanned[0]!
    const early = truth.values(
      'cell_voltage.1',
      timeS.map((t) => t - 0.3),
    )
    expect(scanned[0]!.values).toEqual(early)
    expect(scanned[3]!.values).toEqual(truth.values('cell_voltage.4', timeS))
  })

  test('a filtered cell follows a step of current by 63 % in one time constant', () => {
    const sharp = truth.values('cell_voltage.7', [60, 60.5])
    const slow = truth.values('cell_voltage.7', [60, 60.5], 1e-6)
    expect(slow[0]).toBeCloseTo(sharp[0]!, 6)
    const times = Float64Array.from({ length: 600 }, (_, i) => 30 + i * 0.1)
    const raw = truth.values('cell_voltage.7', times)
    const filtered = truth.values('cell_voltage.7', times, 2)
    const roughness = (values: Float64Array): number =>
      values.reduce((sum, value, i) => (i > 0 ? sum + (value - values[i - 1]!) ** 2 : 0), 0)
    expect(roughness(filtered)).toBeLessThan(0.3 * roughness(raw))
  })

  test('held: a slow reading stands in every row and says which are fresh', () => {
    const { timeS, values, fresh } = only({ channels: ['module_temperature.1'], rateHz: 1, held: true })
    expect(timeS[1]! - timeS[0]!).toBeCloseTo(0.05, 12)
    expect([...fresh!.subarray(0, 21)].map(Boolean).indexOf(true, 1)).toBe(20)
    expect(new Set(values.subarray(0, 20)).size).toBe(1)
  })

  test('with rows that come early and late: as many, rising, still the truth at their stamps', () => {
    const { timeS, values } = only({ channels: ['pack_current'], rateHz: 20 }, { jitterS: 0.01 })
    const even = only({ channels: ['pack_current'], rateHz: 20 }).timeS
    expect(timeS.length).toBe(even.length)
    expect(timeS.every((t, i) => i === 0 || t > timeS[i - 1]!)).toBe(true)
    expect(timeS.some((t, i) => Math.abs(t - even[i]!) > 0.005)).toBe(true)
    expect(values).toEqual(truth.values('pack_current', timeS))
  })

  test('in groups: cells of one group have the same age', () => {
    const cells = ['cell_voltage.1', 'cell_voltage.2', 'cell_voltage.3', 'cell_voltage.4']
    const scanned = read({ channels: cells, rateHz: 10, scanS: 0.4, scanGroup: 2 })
    const early = scanned[0]!.timeS.map((t) => t - 0.2)
    expect(scanned[1]!.values).toEqual(truth.values('cell_voltage.2', early))
    expect(scanned[2]!.values).toEqual(truth.values('cell_voltage.3', scanned[0]!.timeS))
  })

  test('on change: a switch is written only where it moves', () => {
    const { timeS, values } = only({ channels: ['key_on'], rateHz: 20, onChange: true })
    expect([...values]).toEqual([0, 1, 0])
    expect(timeS[1]).toBeCloseTo(4, 1)
  })
})

describe('a log breaks', () => {
  const broken = (faults: Parameters<typeof simulate>[0]['faults']): typeof trace =>
    simulate({ seed: 21, route: { kind: 'mixed', durationS: 90 }, faults: faults! }).trace

  test('a gap leaves no row, a silent node only its own channels', () => {
    const gone = broken([
      { kind: 'log-gap', fromS: 30, toS: 40 },
      { kind: 'node-silent', node: 'inverter', fromS: 50, toS: 60 },
    ])
    const inside = (samples: Samples, from: number, to: number): number =>
      samples.timeS.filter((t) => t >= from && t < to).length
    const torque = read({ channels: ['torque'], rateHz: 20, node: 'inverter' }, {}, gone)[0]!
    const speed = read({ channels: ['speed'], rateHz: 20, node: 'vehicle' }, {}, gone)[0]!
    expect(inside(torque, 30, 40)).toBe(0)
    expect(inside(torque, 50, 60)).toBe(0)
    expect(inside(speed, 50, 60)).toBe(200)
  })

  test('a frozen cell keeps its last value, an open sensor reads its placeholder', () => {
    const stuck = broken([
      { kind: 'cell-frozen', cell: 3, fromS: 40 },
      { kind: 'temperature-open', sensor: 2, value: -40, fromS: 50 },
    ])
    const cell = read({ channels: ['cell_voltage.3'], rateHz: 10 }, {}, stuck)[0]!
    const late = cell.values.filter((_, i) => cell.timeS[i]! >= 40)
    expect(new Set(late).size).toBe(1)
    const sensor = read({ channels: ['module_temperature.2'], rateHz: 1 }, {}, stuck)[0]!
    expect(sensor.values[55]).toBe(-40)
    expect(sensor.values[45]).toBeGreaterThan(10)
  })
})
