import { describe, expect, it } from 'vitest'
import { otherLoads } from '../../src/current/models/other-loads.ts'
import { otherLoadsFigure } from '../../src/current/questions/other-loads.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'
import { driveLoss } from '../simulator/brakes.ts'
import { simulate } from '../simulator/simulate.ts'

describe('power that traction does not explain', () => {
  it('the simulated car’s own loads, within the interval: what has no meter, and a heater of 1500 W more', () => {
    const standing = (heaterW: number) => {
      const made = simulate({
        seed: 5,
        route: { kind: 'urban', durationS: 120 },
        car: { auxiliaryW: 350, heaterW },
      })
      return otherLoads(gatherFacts(made.drive, made.vehicle))!
    }
    const [without, heated] = [standing(0), standing(1500)]
    // as built: 350 W, and what the inverter takes while it turns nothing; the converter by its own reading
    expect(Math.abs(without.restW - 350 - driveLoss(0, 0))).toBeLessThan(without.plusMinusW)
    expect(without.metered.map(({ name }) => name)).toEqual(['12 V converter'])
    expect(Math.abs(heated.standingW - without.standingW - 1500)).toBeLessThan(heated.plusMinusW)
  })

  it('what a switch adds is told by its steps, and its share by its meter', () => {
    const timeS = Array.from({ length: 3000 }, (_, i) => i / 10)
    const pump = (t: number): number => (t % 40 < 20 ? 1 : 0)
    const facts = gatherFacts(
      driveFromColumns(timeS, {
        pack_voltage: timeS.map(() => 400),
        pack_current: timeS.map((t) => (t < 10 ? 0 : 1 + 0.3 * pump(t))),
        contactor_positive: timeS.map((t) => (t < 10 ? 0 : 1)),
        contactor_negative: timeS.map((t) => (t < 10 ? 0 : 1)),
        coolant_pump: timeS.map(pump),
        speed: timeS.map(() => 0),
      }),
      {},
    )
    expect(otherLoads(facts)!.switched).toMatchObject([{ name: 'coolant pump' }])
    expect(otherLoads(facts)!.switched[0]!.watts).toBeCloseTo(120, 0)
    expect(otherLoadsFigure(facts).questions[0]!.why).toContain('Switched by the coolant pump: 120 W')
  })

  it('is not assessed without current, voltage and speed', () => {
    const facts = gatherFacts(driveFromColumns([0, 1], { gradient: [0, 0] }), {})
    expect(otherLoadsFigure(facts).questions[0]!.missing).toEqual(['pack_current', 'pack_voltage', 'speed'])
  })
})
