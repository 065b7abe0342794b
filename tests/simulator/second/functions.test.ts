import { describe, expect, test } from 'vitest'
import { simulateSecond } from './simulate-second.ts'

const values = (made: ReturnType<typeof simulateSecond>, id: string): Float64Array => made.run.at[id]!

describe('functions that drive with the pedal released', () => {
  test('cruise control holds its speed within 3 km/h, brakes downhill, and never under the foot', () => {
    const made = simulateSecond({
      seed: 8,
      road: { durationS: 300, phases: [1, 2], slopePercent: 5 },
      build: { functions: { cruise: true, shown: true } },
    })
    const [on, pedal, bar, torque, speed] = [
      'cruise_active',
      'pedal_position',
      'brake_pressure',
      'torque',
      'speed',
    ].map((id) => values(made, id))
    const at = Array.from(on!, (value, i) => (value === 1 ? i : -1)).filter((i) => i >= 0)
    expect(at.length).toBeGreaterThan(1000)
    expect(Math.max(...at.map((i) => pedal![i]!))).toBeLessThan(1)
    expect(Math.max(...at.map((i) => bar![i]!))).toBeLessThan(1)
    expect(Math.min(...at.map((i) => torque![i]!))).toBeLessThan(-3)
    // within a spell: the middle of its speeds, 97 of 100 samples
    let spell: number[] = []
    for (let k = 0; k <= at.length; k++) {
      if (k > 0 && (k === at.length || at[k]! > at[k - 1]! + 1)) {
        const middle = spell.slice().sort((a, b) => a - b)[spell.length >> 1]!
        const near = spell.filter((kmh) => Math.abs(kmh - middle) < 3).length
        if (spell.length > 500) expect(near / spell.length).toBeGreaterThan(0.97)
        spell = []
      }
      if (k < at.length) spell.push(speed![at[k]!]!)
    }
    expect(made.samples.some(({ id }) => id === 'cruise_active')).toBe(true)
  })

  test('creep pulls away without the pedal, falls with speed, not over its limit', () => {
    const made = simulateSecond({
      seed: 9,
      road: { durationS: 120, phases: [0] },
      build: { functions: { creep: true } },
    })
    const hold = values(made, 'hold_active')
    const torque = values(made, 'torque_request')
    const speed = values(made, 'speed')
    const at = Array.from(hold, (value, i) => (value === 1 ? i : -1)).filter((i) => i >= 0)
    expect(at.length).toBeGreaterThan(50)
    for (const i of at) {
      expect(torque[i]).toBeLessThanOrEqual(made.run.build.pedal.creepMaxNm)
      expect(speed[i]).toBeLessThan(15)
    }
    expect(made.samples.some(({ id }) => id === 'hold_active')).toBe(false)
  })

  test('hill hold: torque, no motion, no brake', () => {
    const made = simulateSecond({
      seed: 12,
      road: { durationS: 240, phases: [0], slopePercent: 8 },
      build: { functions: { hold: true } },
    })
    const hold = values(made, 'hold_active')
    const at = Array.from(hold, (value, i) => (value === 1 ? i : -1)).filter((i) => i >= 0)
    expect(at.length).toBeGreaterThan(20)
    for (const i of at) {
      expect(values(made, 'speed')[i]).toBeLessThan(0.2)
      expect(values(made, 'torque_request')[i]).toBeGreaterThan(0)
    }
  })
})

test('a gearbox changes: motor speed is road speed times the ratio of the gear that is in', () => {
  const ratios = [8.6, 5.5, 4]
  const made = simulateSecond({
    seed: 10,
    road: { durationS: 200, phases: [3] },
    build: { road: { ratios } },
  })
  const [gear, rpm, kmh] = ['gear', 'motor_speed', 'speed'].map((id) => values(made, id))
  expect(new Set(gear)).toEqual(new Set([0, 1, 2, 3]))
  let wrong = 0
  for (let i = 0; i < gear!.length; i++) {
    if (gear![i] === 0 || kmh![i]! < 5) continue
    const omega = (kmh![i]! / 3.6 / made.run.build.road.wheelRadiusM) * ratios[gear![i]! - 1]!
    if (Math.abs((rpm![i]! * Math.PI) / 30 / omega - 1) > 0.06) wrong++
  }
  expect(wrong / gear!.length).toBeLessThan(0.02)
})

test('a module that heats itself after the key was turned off warms at its rate; the rest do not', () => {
  const made = simulateSecond({
    seed: 11,
    road: { durationS: 60, phases: [0] },
    run: { restS: 400 },
    faults: [{ kind: 'self-heating', module: 3, kelvinMin: 2 }],
  })
  const off = Math.round(made.run.keyOffS / 0.5)
  const rise = (m: number): number => made.run.coreC.at(-1)![m]! - made.run.coreC[off]![m]!
  expect(rise(2) / ((made.truth.durationS - made.run.keyOffS) / 60)).toBeGreaterThan(1.6)
  expect(Math.abs(rise(0))).toBeLessThan(0.5)
})

test('a cell that drains itself falls away at rest', () => {
  const made = simulateSecond({
    seed: 11,
    road: null,
    run: { restS: 300 },
    faults: [{ kind: 'self-discharge', cell: 5, amps: 3 }],
  })
  const { pack } = made.run
  expect((pack.startSoc[4]! - pack.socOf(4)) * pack.capacityAh[4]!).toBeCloseTo(
    (3 * made.truth.durationS) / 3600,
    1,
  )
  expect(pack.startSoc[5]! - pack.socOf(5)).toBeLessThan(0.001)
})

test('first readings after waking: one scan of 0 V and 0 or 156 °C, then the truth', () => {
  const made = simulateSecond({ seed: 11, road: null, style: { wakesAtS: [0] } })
  const cell = made.samples.find(({ id }) => id === 'cell_voltage.7')!
  const sensors = [1, 2].map((n) => made.samples.find(({ id }) => id === `module_temperature.${n}`)!)
  expect(cell.values[0]).toBe(0)
  expect(cell.values[1]).toBeGreaterThan(3)
  expect(sensors.map(({ values: of }) => of[0])).toEqual([0, 156])
  expect(Math.abs(sensors[1]!.values[1]! - 20)).toBeLessThan(3)
})
