import { describe, expect, it } from 'vitest'
import {
  dischargeTimeS,
  loadOhm,
  resistorFromTau,
  resistorHeatJ,
  resistorHeatWithLoadJ,
} from '../../src/start/models/precharge-physics.ts'

/** Worked examples P4 … P6 of the project's reference values (textbook RC; FSAE 2026 EV.7.2.2.c with T.9.1.2). */
describe('precharge physics against worked examples', () => {
  it('P4: a full charge puts ½ C V² into the resistor: 80.0 J at 400 V, 30.625 J for 500 µF at 350 V', () => {
    expect(resistorHeatJ(0.001, 400)).toBeCloseTo(80, 9)
    expect(resistorHeatJ(0.0005, 350)).toBeCloseTo(30.625, 9)
  })

  it('P5: up to 95 % 79.80 J are dissipated', () => {
    expect(resistorHeatJ(0.001, 400, 0.95)).toBeCloseTo(79.8, 9)
  })

  it('P6: 60 V within 5 s from 400 V asks for R·C ≤ 2.6356 s, from 350 V t = 1.763588 R·C', () => {
    expect(dischargeTimeS(400, 60, 2.6356)).toBeCloseTo(5, 3)
    expect(dischargeTimeS(400, 60, 1)).toBeCloseTo(1.89712, 5)
    expect(dischargeTimeS(350, 60, 1)).toBeCloseTo(1.763588, 5)
  })

  it('heat with a load: the integral of (V − v)² / R, against a fine sum', () => {
    const [packV, ohm, load, farad, lasts] = [400, 100, 900, 0.001, 2]
    const final = (packV * load) / (load + ohm)
    const tau = farad * ((ohm * load) / (ohm + load))
    let sum = 0
    const dt = 1e-5
    for (let t = dt / 2; t < lasts; t += dt) {
      const v = final * (1 - Math.exp(-t / tau))
      sum += ((packV - v) ** 2 / ohm) * dt
    }
    expect(resistorHeatWithLoadJ(packV, final, 0, tau, ohm, lasts)).toBeCloseTo(sum, 3)
    expect(resistorHeatWithLoadJ(packV, packV, 0, 0.1, 100, 5)).toBeCloseTo(resistorHeatJ(0.001, 400), 6)
  })

  it('voltage divider: 900 Ω behind 150 Ω holds 85.714 %, and back', () => {
    expect(loadOhm(900 / 1050, 150)).toBeCloseTo(900, 9)
    expect(loadOhm(1, 150)).toBe(Number.POSITIVE_INFINITY)
    expect(resistorFromTau(0.001 * ((150 * 900) / 1050), 900 / 1050, 0.001)).toBeCloseTo(150, 9)
  })
})
