import { describe, expect, test } from 'vitest'
import { conversionTo, convert } from '../../shared/units.ts'
import { chooseUnit, spreadOf } from '../../src/naming/choose-unit.ts'

describe('exact factors', () => {
  // NIST Special Publication 811 (2008), appendix B: mile, pound-force per square inch, degree Fahrenheit, kelvin.
  const cases: readonly (readonly [value: number, unit: string, wanted: string, result: number])[] = [
    [1000, 'psi', 'bar', 68.94757293168],
    [60, 'mph', 'km/h', 96.56064],
    [212, '°F', '°C', 100],
    [32, 'degF', '°C', 0],
    [273.15, 'K', '°C', 0],
    [10, 'm/s', 'km/h', 36],
    [250, 'kPa', 'bar', 2.5],
    [4.2, 'MPa', 'bar', 42],
    [3998, 'mV', 'V', 3.998],
    [12500, 'mA', 'A', 12.5],
    [2.5, 'MOhm', 'kΩ', 2500],
    [2.5, 'MΩ', 'kΩ', 2500],
    [400, 'ohm', 'kΩ', 0.4],
    [0.8, 'mΩ', 'mΩ', 0.8],
    [800, 'µΩ', 'mΩ', 0.8],
    [1, 'g', 'm/s²', 9.80665],
    [250, 'ms', 's', 0.25],
    [250, 'µs', 's', 0.00025],
    [1.5, 'kW', 'W', 1500],
  ]
  for (const [value, unit, wanted, result] of cases)
    test(`${value} ${unit} = ${result} ${wanted}`, () => {
      expect(convert(value, conversionTo(unit, wanted)!)).toBeCloseTo(result, 10)
    })

  test('thousandths of whole numbers are the nearest doubles', () => {
    const by = conversionTo('mV', 'V')!
    for (let mv = 0; mv < 5000; mv++) expect(convert(mv, by)).toBe(Number((mv / 1000).toFixed(3)))
  })
})

describe('the unit that stands, or that the values need', () => {
  const cases: readonly (readonly [
    what: string,
    id: string,
    stated: string | null,
    values: readonly number[],
    unit: string,
    first: number,
  ])[] = [
    ['a cell without a unit at 3998 is mV', 'cell_voltage.1', null, [3998, 3990, 4001], 'V', 3.998],
    ['a cell without a unit at 3.998 is V', 'cell_voltage.1', null, [3.998, 3.99, 4.001], 'V', 3.998],
    ['a temperature at 290 is K', 'motor_temperature', null, [290, 300, 310], '°C', 16.85],
    ['pressure to 3000 is kPa', 'brake_pressure', null, [0, 1500, 3000, 2900], 'bar', 0],
    ['pressure to 45 is bar', 'brake_pressure', null, [0, 20, 45], 'bar', 0],
    ['isolation at 2.516 is MΩ', 'isolation_resistance', null, [2.516, 2.52], 'kΩ', 2516],
    ['isolation at a whole 15 is kΩ, a fault', 'isolation_resistance', null, [15, 16], 'kΩ', 15],
    ['a stated kΩ stands, however low', 'isolation_resistance', 'kOhm', [0.4, 0.5], 'kΩ', 0.4],
    ['a stated MΩ stands, however low', 'isolation_resistance', 'MOhm', [0.015, 0.016], 'kΩ', 15],
    ['milliohm of insulation can only be megohm', 'isolation_resistance', 'mOhm', [2.5, 2.6], 'kΩ', 2500],
    ['milliohm of a cell stays', 'cell_resistance_reported.3', 'mOhm', [1.1, 1.2], 'mΩ', 1.1],
    ['megohm of a cell can only be milliohm', 'cell_resistance_reported.3', 'MOhm', [1.1, 1.2], 'mΩ', 1.1],
    ['charge as a share of one', 'soc', null, [0.82, 0.81], '%', 82],
    ['a pedal in counts stays in counts', 'pedal_track_1', null, [180, 850], 'counts', 180],
    ['a pedal in mV', 'pedal_track_1', 'mV', [850, 4100], 'V', 0.85],
    ['a pack in tenths of a volt', 'pack_voltage', null, [3358, 3320], 'V', 335.8],
  ]
  for (const [what, id, stated, values, unit, first] of cases)
    test(what, () => {
      const chosen = chooseUnit(id, stated, spreadOf(values))
      expect(chosen.unit).toBe(unit)
      expect(chosen.by ? convert(values[0]!, chosen.by) : values[0]).toBeCloseTo(first, 9)
    })
})
