import { describe, expect, test } from 'vitest'
import { median } from '../../../src/math/stats.ts'
import { Random } from '../random.ts'
import { makeBuild } from './build.ts'
import { CHEMISTRIES, restVolt, thermalVolt } from './chemistry.ts'
import { meanOf, SHELLS, Stepper } from './particle.ts'
import { CELL_STEP_S, chargeTransfer, ParticlePack } from './particle-pack.ts'
import { simulateSecond } from './simulate-second.ts'
import { TwoNodeHeat } from './two-node-heat.ts'

/** Roots of tan λ = λ (Carslaw and Jaeger, Conduction of Heat in Solids, appendix, from memory; checked by the equation). */
const LAMBDAS = Array.from({ length: 400 }, (_, n) => {
  let x = (n + 1.5) * Math.PI - 1 / ((n + 1.5) * Math.PI)
  for (let i = 0; i < 20; i++) x -= (Math.tan(x) - x) / Math.tan(x) ** 2
  return x
})

describe('a sphere with constant outflow', () => {
  test('the roots solve tan λ = λ; the first is 4.4934', () => {
    expect(LAMBDAS[0]).toBeCloseTo(4.493409, 5)
    expect(LAMBDAS.reduce((sum, x) => sum + 2 / (x * x), 0)).toBeCloseTo(0.2, 2)
  })

  test.each([1040, 6800, 424])('surface as the closed form (Carslaw and Jaeger 9.3), τ = %d s', (tauS) => {
    const stepper = new Stepper(tauS, CELL_STEP_S)
    const shells = new Float64Array(SHELLS).fill(0.5)
    const outflow = 1e-5
    let surface = 0.5
    const final = (outflow * tauS) / 5
    for (let i = 1; i <= 20_000; i++) {
      surface = stepper.step(shells, 0, outflow)
      if (![1, 3, 10, 30, 100, 300, 1000, 5000, 20_000].includes(i)) continue
      const t = i * CELL_STEP_S
      const decays = LAMBDAS.reduce((sum, x) => sum + (2 / (x * x)) * Math.exp((-x * x * t) / tauS), 0)
      // The cut series: what 400 roots leave of 1/5.
      const exact = -outflow * tauS * (0.2 - decays) - 3 * outflow * t
      expect(Math.abs(surface - 0.5 - exact)).toBeLessThan(0.02 * final)
    }
    expect(meanOf(shells, 0)).toBeCloseTo(0.5 - 3 * outflow * 2000, 9)
  })
})

describe('a cell', () => {
  test('charge transfer is linear for small currents and logarithmic for large ones (Butler-Volmer, Tafel)', () => {
    const volt = thermalVolt(25)
    expect(volt).toBeCloseTo(0.0256926, 6)
    // R T / F (1 / I0n + 1 / I0p)
    expect(chargeTransfer(volt, 10, 40, 0.01) / 0.01).toBeCloseTo(volt * (1 / 10 + 1 / 40), 7)
    // ten times the current: 2 R T / F ln 10 more for each electrode
    const decade = chargeTransfer(volt, 0.1, 0.1, 1000) - chargeTransfer(volt, 0.1, 0.1, 100)
    expect(decade).toBeCloseTo(2 * 2 * volt * Math.log(10), 5)
  })

  test('at once a step of current shows ohms and charge transfer, the closed form', () => {
    const build = makeBuild({
      cells: { perModule: [2], ohmicSpread: 0, kineticSpread: 0, capacitySpread: 0, socSpread: 0 },
    })
    const pack = new ParticlePack(build, [], new Random(1))
    pack.warm(Float64Array.of(25))
    const { negative, positive } = CHEMISTRIES.nmc
    const { capacityAh, kinetics, startSoc, ohmicMohmAh } = build.cells
    const at = ({ empty, full }: typeof negative): number => empty + startSoc * (full - empty)
    const exchange = (electrode: typeof negative): number =>
      kinetics * capacityAh * electrode.exchangePerAh * 2 * Math.sqrt(at(electrode) * (1 - at(electrode)))
    const amps = 120
    const own = chargeTransfer(thermalVolt(25), exchange(negative), exchange(positive), amps)
    expect(pack.kinetic(0, amps)).toBeCloseTo(own, 9)
    expect(pack.ohmicOf(0)).toBeCloseTo(ohmicMohmAh / capacityAh / 1000, 9)
    expect(pack.inside[0]).toBeCloseTo(restVolt(CHEMISTRIES.nmc, startSoc), 3)
  })

  test('open-circuit voltages are those of such cells', () => {
    // Chen et al. 2020: 2.5 … 4.2 V; LFP plateau 3.2 … 3.35 V (common knowledge of the trade, no source)
    expect(restVolt(CHEMISTRIES.nmc, 1)).toBeCloseTo(4.2, 1)
    expect(restVolt(CHEMISTRIES.nmc, 0)).toBeLessThan(3)
    for (const soc of [0.2, 0.5, 0.8]) {
      expect(restVolt(CHEMISTRIES.lfp, soc)).toBeGreaterThan(3.18)
      expect(restVolt(CHEMISTRIES.lfp, soc)).toBeLessThan(3.36)
    }
  })

  test('lithium in the particles is the charge that went', () => {
    const pack = new ParticlePack(makeBuild(), [], new Random(3))
    for (let i = 0; i < 3000; i++) pack.step(80)
    for (const k of [0, 40, 83]) {
      const gone = (80 * 300) / 3600 / pack.capacityAh[k]!
      expect(pack.socOf(k)).toBeCloseTo(pack.startSoc[k]! - gone, 6)
    }
  })
})

describe('a drive', () => {
  const made = simulateSecond({ seed: 5, road: { durationS: 240, slopePercent: 4 } })
  const { ledger } = made.truth

  test('what the cells gave is what came out and what became heat', () => {
    const spent = ledger.deliveredWh + ledger.linkHeatWh + ledger.cellHeatWh
    expect(Math.abs(spent / ledger.chemicalWh - 1)).toBeLessThan(0.002)
  })

  test('chemical energy hangs on the way between two charges only: ∫ U dq', () => {
    const { pack } = made.run
    let joule = 0
    for (let k = 0; k < pack.cells; k++) {
      const [from, to] = [pack.startSoc[k]!, pack.socOf(k)]
      const steps = 200
      for (let i = 0; i < steps; i++) {
        const soc = from + ((to - from) * (i + 0.5)) / steps
        joule += restVolt(pack.chemistry, soc) * ((from - to) / steps) * pack.capacityAh[k]! * 3600
      }
    }
    expect(ledger.chemicalWh).toBeCloseTo(joule / 3600, 0)
  })

  test('the sum of the cells is the pack at the cells', () => {
    const plain = simulateSecond({
      seed: 6,
      road: { durationS: 120 },
      build: { links: { packVoltageAt: 'cells', spread: 0 } },
    })
    const volts = plain.samples.filter(({ id }) => id.startsWith('cell_voltage.'))
    const pack = plain.samples.find(({ id }) => id === 'pack_voltage')!
    const off = Array.from(pack.values, (volt, i) =>
      volts.reduce((sum, cell) => sum + cell.values[i]!, -volt),
    )
    expect(volts.length).toBe(84)
    expect(Math.max(...off.map(Math.abs))).toBeGreaterThan(0.05) // noise and steps are there
    expect(Math.abs(median(off))).toBeLessThan(0.1)
  })

  test('same options, same drive; the current falls as nothing flows', () => {
    const again = simulateSecond({ seed: 5, road: { durationS: 240, slopePercent: 4 } })
    expect(again.samples.map((each) => each.values.reduce((a, b) => a + b, 0))).toEqual(
      made.samples.map((each) => each.values.reduce((a, b) => a + b, 0)),
    )
    expect(made.run.at.pack_current!.at(-1)).toBe(0)
  })
})

describe('heat', () => {
  const build = makeBuild({
    cells: { perModule: [14] },
    heat: { loops: [[1]], startC: 25, ambientC: 25, spread: 0, airKelvinWatt: 1e12, flowWattKelvin: 1e9 },
  })
  const heat = (): TwoNodeHeat => new TwoNodeHeat(build, [], new Random(2))

  test('one node of it is the lumped model (checks.md H1): 200 W, 0.5 K/W, 20 kJ/K, 600 s: 30.82 °C', () => {
    const one = heat()
    // No wall between core and surface, coolant held at 25 °C.
    one.coreC[0] = one.surfaceC[0] = 25
    one.coreKelvinWatt[0] = 1e-3
    one.plateKelvinWatt[0] = 0.5
    one.coreJouleK[0] = 17_000
    one.surfaceJouleK[0] = 3000
    for (let i = 0; i < 600_000; i++) {
      one.inC = 25
      one.step(0.001, i * 0.001, true, Float64Array.of(200), Float64Array.of(0), 0)
    }
    // the whole store: core and surface by their shares
    expect(0.85 * one.coreC[0]! + 0.15 * one.surfaceC[0]!).toBeCloseTo(30.823547, 2)
  })

  test('two nodes at rest: core over water by P (Rc + Rp), surface by P Rp', () => {
    const two = heat()
    for (let i = 0; i < 60_000; i++) {
      two.inC = 25
      two.step(0.5, i * 0.5, true, Float64Array.of(100), Float64Array.of(0), 0)
    }
    const core = two.coreKelvinWatt[0]!
    const plate = two.plateKelvinWatt[0]!
    expect(two.coreC[0]).toBeCloseTo(25 + 100 * (core + plate), 2)
    expect(two.surfaceC[0]).toBeCloseTo(25 + 100 * plate, 2)
  })

  test('coolant reaches the next module warmer by P over the flow', () => {
    const row = new TwoNodeHeat(
      makeBuild({
        cells: { perModule: [14, 14] },
        heat: { spread: 0, airKelvinWatt: 1e12, flowWattKelvin: 200 },
      }),
      [],
      new Random(2),
    )
    for (let i = 0; i < 60_000; i++) {
      row.inC = 20
      row.step(0.5, i * 0.5, true, Float64Array.of(100, 100), Float64Array.of(0, 0), 0)
    }
    expect(row.waterC[1]! - row.waterC[0]!).toBeCloseTo(100 / 200, 3)
  })
})
