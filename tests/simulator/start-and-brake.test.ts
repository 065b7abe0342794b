import { describe, expect, test } from 'vitest'
import { RegenMap, roadLoad } from './brakes.ts'
import { makeCar } from './car.ts'
import type { Fault } from './faults.ts'
import { pedalTorque, travelFor } from './pedal.ts'
import { type Simulated, simulate } from './simulate.ts'
import { BMS_FAULT } from './start-chain.ts'

const start = (...faults: Fault[]): Simulated => simulate({ seed: 5, route: null, faults })
const most = (values: Float64Array): number =>
  values.reduce((a, b) => Math.max(a, b), Number.NEGATIVE_INFINITY)

describe('the start chain', () => {
  test('goes key, negative, precharge, positive, inverter, ready, in this order', () => {
    const { at } = start().trace
    const first = (id: keyof typeof at): number => at[id].findIndex((value) => value >= 1)
    const order = ['key_on', 'contactor_negative', 'contactor_precharge', 'contactor_positive'] as const
    const times = [...order.map(first), at.inverter_state.indexOf(3), first('drive_ready')]
    expect(times.every((time) => time > 0)).toBe(true)
    expect([...times].sort((a, b) => a - b)).toEqual(times)
  })

  test('closes the positive contactor only with the link at its ready percentage', () => {
    const { at } = start().trace
    const closing = at.contactor_positive.indexOf(1)
    expect(at.link_voltage[closing - 1]! / at.pack_voltage[closing - 1]!).toBeGreaterThan(0.95)
  })

  test.each<[string, Fault, keyof typeof BMS_FAULT | null]>([
    ['a cell fault', { kind: 'battery-fault' }, 'battery'],
    ['a leak of 60 kΩ', { kind: 'isolation', kohm: 60, side: 'battery' }, 'isolation'],
    ['a load on the link', { kind: 'precharge-load', ohm: 600 }, 'precharge'],
    ['an open loop', { kind: 'interlock-open' }, null],
    ['an inertia switch that fell', { kind: 'inertia-open' }, null],
    ['a plug in the socket', { kind: 'plug-in' }, null],
    ['9.6 V on the 12 V system', { kind: 'lv-low', volt: 9.6 }, null],
  ])('%s keeps the car from driving: no positive contactor, two tries', (_, fault, bit) => {
    const { trace, truth } = start(fault)
    expect(most(trace.at.contactor_positive)).toBe(0)
    expect(truth.starts).toHaveLength(2)
    expect(truth.starts.every((each) => each.readyS === null)).toBe(true)
    expect(most(trace.at.bms_faults)).toBe(bit ? BMS_FAULT[bit] : 0)
  })

  test('a loop that opens under way drops the contactors within 0.1 s and the car stops', () => {
    const { trace, truth } = simulate({
      seed: 5,
      route: { kind: 'mixed', durationS: 120 },
      faults: [{ kind: 'interlock-open', fromS: 60 }],
    })
    const lost = truth.starts[0]!.lostS!
    expect(lost).toBeGreaterThan(60)
    expect(lost).toBeLessThan(60.15)
    expect(trace.at.torque[Math.round((lost + 0.2) * 100)]).toBe(0)
    expect(trace.at.speed[trace.length - 1]).toBe(0)
  })

  test('contactors that drop under load leave the link to the inverter: it falls within a second', () => {
    const { trace } = simulate({
      seed: 5,
      route: { kind: 'mixed', durationS: 120 },
      faults: [{ kind: 'contactor-opened', atS: 60 }],
    })
    expect(trace.at.link_voltage[5990]).toBeGreaterThan(300)
    expect(trace.at.link_voltage[6100]).toBeLessThan(0.8 * trace.at.link_voltage[5990]!)
    expect(trace.at.pack_current[6010]).toBe(0)
  })

  test('charging: current into the pack with the key off, contactors closed, state of charge up', () => {
    const { trace } = simulate({
      seed: 5,
      route: null,
      driver: { charge: { durationS: 120, amps: 25 }, restS: 8 },
    })
    const charging = trace.at.bms_state.indexOf(7)
    expect(charging).toBeGreaterThan(0)
    expect(trace.at.pack_current[charging + 2000]).toBeCloseTo(-25, 0)
    expect(trace.at.key_on[charging + 2000]).toBe(0)
    expect(trace.dischargedAh[trace.length - 1]).toBeLessThan(trace.dischargedAh[charging]!)
  })
})

describe('pedal and brake', () => {
  test('the driver’s inverse of the pedal gives the torque that was wanted', () => {
    for (const torque of [-6, -1, 4, 60, 140])
      expect(pedalTorque(travelFor(torque, 9, 175), 9, 175)).toBeCloseTo(torque, 9)
  })

  test('the regeneration map: nothing at the start, all at the full pressure, none below the fade', () => {
    const car = makeCar()
    const map = new RegenMap(car, [])
    expect(map.pressTorque(car.brake.startBar, 60)).toBe(0)
    expect(map.pressTorque(car.brake.fullBar, 60)).toBe(car.brake.maxNm)
    expect(map.pressTorque((car.brake.startBar + car.brake.fullBar) / 2, 60)).toBeCloseTo(
      car.brake.maxNm / 2,
      9,
    )
    expect(map.pressTorque(40, car.brake.fadeKmh[0])).toBe(0)
    expect(new RegenMap(car, [{ kind: 'regen-dead-band', bar: 9 }]).pressTorque(9, 60)).toBe(0)
  })

  test('road load at 72 km/h: rolling plus ½ ρ cdA v² (air 1.2 kg/m³)', () => {
    const car = makeCar()
    const { massKg, rolling, dragAreaM2 } = car.road
    expect(roadLoad(car, 20, 0)).toBeCloseTo(massKg * 9.81 * rolling + 0.6 * dragAreaM2 * 400, 9)
  })

  test('mirrored tracks and a same-way track of half the slope both tell the same travel', () => {
    for (const track2 of [
      [4.2, 0.9],
      [0.4, 2.1],
    ] as const) {
      const { at } = simulate({
        seed: 8,
        route: { kind: 'mixed', durationS: 60 },
        car: { pedal: { track1: [0.8, 4.2], track2 } },
      }).trace
      at.pedal_track_1.forEach((volt, i) => {
        const one = (volt - 0.8) / 3.4
        const two = (at.pedal_track_2[i]! - track2[0]) / (track2[1] - track2[0])
        expect(Math.abs(one - two)).toBeLessThan(0.02)
      })
    }
  })

  test('a battery that takes little limits regeneration to its amperes', () => {
    const { at } = simulate({
      seed: 8,
      route: { kind: 'mixed', durationS: 120 },
      faults: [{ kind: 'regen-limited', amps: 20 }],
    }).trace
    expect(Math.min(...at.pack_current)).toBeGreaterThan(-23)
    expect(Math.min(...at.torque_request)).toBeLessThan(Math.min(...at.torque) - 5)
  })
})
