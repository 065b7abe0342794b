import { describe, expect, test } from 'vitest'
import { copperFactor } from '../../src/car/copper.ts'
import { fallPerKelvin, warmthFactor, warmthLaw } from '../../src/car/resistance-warmth.ts'

describe('resistance against warmth', () => {
  test('is Arrhenius: 20 kJ/mol is 2405.4 K and 0.7697 from 25 to 35 °C', () => {
    // E/R = 20000 / 8.314462618 J/(mol·K) (CODATA 2018); factor by hand: e^(2405.4 · (1/308.15 − 1/298.15)) = 0.7697
    const activation = 20_000 / 8.314462618
    expect(activation).toBeCloseTo(2405.4, 0)
    const byHand = Math.exp(-2405.446 * 1.08845e-4)
    expect(warmthFactor(activation, 35)).toBeCloseTo(byHand, 4)
    expect(warmthFactor(activation, 25)).toBe(1)
  })

  test('its share per kelvin is the slope of the factor', () => {
    for (const celsius of [-10, 5, 25, 40]) {
      const { kelvin } = warmthLaw('nmc').ohmic
      const slope = (warmthFactor(kelvin, celsius + 0.01, celsius) - 1) / 0.01
      expect(fallPerKelvin(kelvin, celsius)).toBeCloseTo(-slope, 4)
    }
  })

  test('metal rises while cells fall', () => {
    // IEC 60028: 0.393 % per kelvin at 20 °C
    expect(copperFactor(30)).toBeCloseTo(1.0393, 6)
    expect(warmthFactor(warmthLaw('lfp').ohmic.kelvin, 30, 20)).toBeLessThan(1)
  })

  test('an unknown chemistry gets the usual law', () => {
    expect(warmthLaw(undefined)).toEqual(warmthLaw('something new'))
  })
})
