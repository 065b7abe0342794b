import { describe, expect, test } from 'vitest'
import { makeCar } from './car.ts'
import { Heat } from './heat.ts'
import { Random } from './random.ts'
import { type Simulated, simulate } from './simulate.ts'
import { STEP_S } from './trace.ts'
import { TruthAt } from './truth-at.ts'

const short = { kind: 'mixed', durationS: 150 } as const
const plain: Simulated = simulate({ seed: 11, route: short })

describe('energy is kept', () => {
  test('what the cells give is what link, path, joints and heat take', () => {
    const { ledger } = plain.truth
    const taken = ledger.cellHeatWh + ledger.linkHeatWh + ledger.pathHeatWh + ledger.deliveredWh
    expect(ledger.chemicalWh).toBeGreaterThan(100)
    expect(taken / ledger.chemicalWh).toBeCloseTo(1, 9)
  })

  test('the sum of the cells’ own voltages times current is the pack’s energy at the cells', () => {
    const { trace } = simulate({ seed: 11, route: short, car: { pack: { packVoltageAt: 'cells' } } })
    const truth = new TruthAt(trace)
    const times = Float64Array.from({ length: Math.floor(trace.length / 10) }, (_, i) => i * 10 * STEP_S)
    const sum = new Float64Array(times.length)
    for (let k = 1; k <= trace.pack.cells; k++) {
      const volts = truth.values(`cell_voltage.${k}`, times)
      for (let i = 0; i < sum.length; i++) sum[i]! += volts[i]!
    }
    const pack = truth.values('pack_voltage', times)
    const worst = sum.reduce((most, volt, i) => Math.max(most, Math.abs(volt - pack[i]!)), 0)
    expect(worst).toBeLessThan(0.02)
  })

  test('the wheels’ work is what is left after friction, road and speed', () => {
    // At rest at both ends: driven work = friction + rolling + air. All of it positive here, on a flat road.
    const { ledger, distanceKm } = plain.truth
    const rolling = (1340 * 9.81 * 0.0115 * distanceKm * 1000) / 3600
    expect(ledger.wheelWh - ledger.frictionWh).toBeGreaterThan(rolling)
    expect(ledger.wheelWh - ledger.frictionWh).toBeLessThan(4 * rolling)
  })
})

describe('precharge follows the RC law (textbook)', () => {
  const rising = (options: Parameters<typeof simulate>[0]): { times: number[]; share: number[] } => {
    const { at, length } = simulate(options).trace
    const times: number[] = []
    const share: number[] = []
    for (let i = 1; i < length; i++) {
      if (at.contactor_precharge[i] === 1 && at.contactor_positive[i] === 0 && at.link_voltage[i]! > 0) {
        times.push(i * STEP_S)
        share.push(at.link_voltage[i]! / at.pack_voltage[i]!)
      } else if (times.length > 3) break
    }
    return { times, share }
  }

  test('1 − e^(−t/RC): R = 100 Ω, C = 900 µF, 22 kΩ across', () => {
    const { times, share } = rising({ seed: 3, route: null })
    const tau = 0.0009 / (1 / 100 + 1 / 22000)
    const end = 22000 / 22100
    const start = times[0]! + tau * Math.log(1 - share[0]! / end)
    times.forEach((t, i) => {
      expect(share[i]).toBeCloseTo(end * (1 - Math.exp(-(t - start) / tau)), 2)
    })
    expect(times.length).toBeGreaterThan(20)
  })

  test('a load of 700 Ω stops it at 700 / 800 of the pack and no contactor closes', () => {
    const made = simulate({ seed: 3, route: null, faults: [{ kind: 'precharge-load', ohm: 700 }] })
    const { at } = made.trace
    const most =
      at.link_voltage.reduce((a, b) => Math.max(a, b), 0) /
      made.drive.channels.get('pack_voltage')!.values[0]!
    const across = 1 / (1 / 700 + 1 / 22000)
    expect(most).toBeCloseTo(across / (across + 100), 3)
    expect(made.truth.precharge.reachedPercent).toBeCloseTo((100 * across) / (across + 100), 9)
    expect(at.contactor_positive.some((closed) => closed === 1)).toBe(false)
  })

  test('after key-off the link falls below 60 V within 5 s', () => {
    const { at, length } = plain.trace
    const off = at.key_on.lastIndexOf(1)
    const low = at.link_voltage.findIndex((volt, i) => i > off && volt < 60)
    expect(low).toBeGreaterThan(off)
    expect(low).toBeLessThan(length)
    expect((low - off) * STEP_S).toBeLessThan(5)
  })
})

describe('cells', () => {
  test('a pulse shows the ohmic part at once and the slow parts later (pulse definition, ΔV / ΔI)', () => {
    const { trace, truth } = plain
    const source = new TruthAt(trace)
    const amps = trace.at.pack_current
    let at = 0
    for (let i = 0; i < trace.length - 3; i++)
      if (Math.abs(amps[i + 2]! - amps[i]!) > Math.abs(amps[at + 2]! - amps[at]!)) at = i
    const cell = truth.cells[20]!
    const [before, after] = source.values('cell_voltage.21', [at * STEP_S, (at + 2) * STEP_S])
    const ohm = -(after! - before!) / (amps[at + 2]! - amps[at]!)
    expect(1000 * ohm).toBeGreaterThan(cell.ohmicMohm * 0.97)
    expect(1000 * ohm).toBeLessThan((cell.ohmicMohm + cell.readMohm) * 1.03)
  })

  test('a joint of 0.4 mΩ lowers its cell’s reading by 0.4 mV/A and touches no other', () => {
    const faulty = simulate({ seed: 11, route: short, faults: [{ kind: 'joint', cell: 9, ohm: 0.0004 }] })
    expect(faulty.truth.cells[8]!.faultJointMohm).toBeCloseTo(0.4, 9)
    expect(faulty.truth.cells[8]!.readMohm - plain.truth.cells[8]!.readMohm).toBeCloseTo(0.4, 9)
    expect(faulty.truth.cells[9]!.readMohm).toBe(plain.truth.cells[9]!.readMohm)
    const whole = [9, 10].map((k) => new TruthAt(faulty.trace).values(`cell_voltage.${k}`, [60, 61, 62]))
    const own = [9, 10].map((k) => new TruthAt(plain.trace).values(`cell_voltage.${k}`, [60, 61, 62]))
    const amps = new TruthAt(plain.trace).values('pack_current', [60, 61, 62])
    amps.forEach((ampere, i) => {
      expect((own[0]![i]! - whole[0]![i]!) * 1000).toBeCloseTo(0.4 * ampere, 0)
      expect((own[1]![i]! - whole[1]![i]!) * 1000).toBeCloseTo(0, 0)
    })
  })

  test('one of two parallel cells open doubles the resistance and halves the capacity', () => {
    const open = simulate({
      seed: 11,
      route: null,
      faults: [{ kind: 'parallel-open', cell: 5, missing: 1 }],
    }).truth
    const whole = simulate({ seed: 11, route: null }).truth
    expect(open.cells[4]!.ohmicMohm / whole.cells[4]!.ohmicMohm).toBeCloseTo(2, 2)
    expect(open.cells[4]!.capacityAh / whole.cells[4]!.capacityAh).toBeCloseTo(0.5, 9)
  })

  test('a sense lead moves two neighbours by the same voltage in opposite directions, at rest too', () => {
    const { cells } = simulate({
      seed: 11,
      route: null,
      faults: [{ kind: 'sense-lead', cell: 30, volt: 0.015 }],
    }).truth
    const whole = simulate({ seed: 11, route: null }).truth.cells
    // within the little that the median cell itself moves by
    expect(cells[29]!.restOffsetMv - whole[29]!.restOffsetMv).toBeCloseTo(15, 1)
    expect(cells[30]!.restOffsetMv - whole[30]!.restOffsetMv).toBeCloseTo(-15, 1)
  })
})

describe('heat', () => {
  test('with the pump off a module follows ΔT = P R (1 − e^(−t/RC)) (closed form of one heat store)', () => {
    const car = makeCar({ heat: { ambientC: 15, startC: 15, airKelvinWatt: 2, moduleJouleKelvin: 8000 } })
    const heat = new Heat(car, [], new Random(1))
    const watt = new Float64Array(8).fill(40)
    for (let t = 0.5; t <= 3600; t += 0.5) heat.step(0.5, t, false, watt, 0)
    expect(heat.moduleC[3]).toBeCloseTo(15 + 40 * 2 * (1 - Math.exp(-3600 / 16000)), 2)
  })

  test('at rest with itself a module stands P · Rth above the water, three times that with poor cooling', () => {
    const car = makeCar({
      heat: { coolingSpread: 0, airKelvinWatt: 1e9, flowWattKelvin: 1e9, moduleKelvinWatt: 0.1 },
    })
    const heat = new Heat(car, [{ kind: 'cooling', module: 3, factor: 3 }], new Random(1))
    const watt = new Float64Array(8).fill(50)
    for (let t = 0.5; t <= 40000; t += 0.5) heat.step(0.5, t, true, watt, 0)
    expect(heat.moduleC[1]! - heat.coolantInC).toBeCloseTo(5, 1)
    expect(heat.moduleC[2]! - heat.coolantInC).toBeCloseTo(15, 1)
  })
})

describe('determinism', () => {
  test('the same options give the same drive, another seed another', () => {
    const again = simulate({ seed: 11, route: short })
    const other = simulate({ seed: 12, route: short })
    for (const id of ['pack_current', 'cell_voltage.40', 'pedal_track_2'] as const)
      expect(again.drive.channels.get(id)!.values).toEqual(plain.drive.channels.get(id)!.values)
    expect(other.truth.distanceKm).not.toBe(plain.truth.distanceKm)
  })

  test('a fault in one cell leaves the driver’s and the noise’s chance alone', () => {
    const faulty = simulate({ seed: 11, route: short, faults: [{ kind: 'imbalance', cell: 3, soc: -0.02 }] })
    expect(faulty.drive.channels.get('pedal_track_1')!.values[500]).toBeCloseTo(
      plain.drive.channels.get('pedal_track_1')!.values[500]!,
      1,
    )
  })
})
