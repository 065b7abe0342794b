import { describe, expect, it } from 'vitest'
import { gatherFacts } from '../../src/review/run-all.ts'
import { lvBatteryOhm } from '../../src/start/models/lv-battery-ohm.ts'
import { lvBattery } from '../../src/start/questions/lv-battery.ts'
import { supply } from '../../src/start/questions/supply-dcdc.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'
import { converter, converterCase } from '../studies/rest/converter.ts'
import { judge } from '../studies/rest/family.ts'

const timeS = Array.from({ length: 3000 }, (_, i) => i / 10)
const car = (volts: (t: number) => number, amps: (t: number) => number = () => 0) =>
  driveFromColumns(timeS, {
    lv_voltage: timeS.map(volts),
    lv_current: timeS.map(amps),
    key_on: timeS.map((t) => (t >= 2 && t < 150 ? 1 : 0)),
    contactor_positive: timeS.map((t) => (t >= 4 && t < 150 ? 1 : 0)),
    speed: timeS.map((t) => (t >= 10 && t < 145 ? 30 : 0)),
    motor_speed: timeS.map((t) => (t >= 10 && t < 145 ? 3000 : 0)),
    torque: timeS.map((t) => (t >= 10 && t < 140 ? 40 : 0)),
  })

describe('12 V battery and converter', () => {
  // lead: 12.6 V at rest and charged, charging from 13.2 V up; LFP of four cells: 13.3 V at rest, charging from 13.6 V up:
  // common practice, no source
  it.each([
    ['lead', 12.6, ['dcdc-not-charging']],
    ['lead', 13.8, []],
    ['lfp', 13.3, ['dcdc-not-charging']],
    ['lfp', 13.9, []],
  ] as const)('%s at %d V with the contactors closed', (chemistry, volts, kinds) => {
    const { findings } = supply(
      gatherFacts(
        car((t) => (t < 4 ? 12.4 : volts)),
        { lv_chemistry: chemistry },
      ),
    )
    expect(findings.map(({ kind }) => kind)).toEqual(kinds)
  })

  it('says when the converter took over', () => {
    const { questions } = supply(
      gatherFacts(
        car((t) => (t < 5 ? 12.4 : 13.9)),
        {},
      ),
    )
    expect(questions[1]!.why).toContain('took over 1.0 s after they closed: 12.4 V before, 13.9 V after')
  })

  it('resistance from load steps, and the drain with the key off', () => {
    const amps = (t: number): number =>
      t > 151 ? 0.31 : t < 2 || t >= 150 ? 1 : 6 + (t < 4 && t % 1 < 0.5 ? 8 : 0)
    const facts = gatherFacts(
      car((t) => 12.6 - 0.012 * amps(t), amps),
      {},
    )
    expect(lvBattery(facts).questions[1]!.why).toContain('0.31 A')
    expect(
      lvBattery(gatherFacts(driveFromColumns([0, 1], { speed: [0, 0] }), {})).questions.map(
        ({ missing }) => missing,
      ),
    ).toEqual([
      ['lv_current', 'lv_voltage'],
      ['lv_current', 'key_on'],
    ])
  })

  it.each(['first', 'second'] as const)(
    'ill on the %s simulator’s car: told, and its battery’s resistance with it',
    (model) => {
      const made = converterCase(model, 2, true)
      expect(judge(converter, made, false)).toMatchObject({
        found: true,
        covered: true,
        false: [],
        broke: [],
      })
      const found = lvBatteryOhm(gatherFacts(made.drive, made.vehicle))!
      expect(Math.abs(found.ohm / made.lv.ohm - 1)).toBeLessThan(0.15)
      expect(Math.abs(found.ohm - made.lv.ohm)).toBeLessThan(found.plusMinus)
    },
  )
})
