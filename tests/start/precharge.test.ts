import { describe, expect, it } from 'vitest'
import type { Vehicle } from '../../shared/vehicle.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { judgedAttempts } from '../../src/start/models/start-verdicts.ts'
import { precharge } from '../../src/start/questions/precharge.ts'
import { prechargeTime } from '../../src/start/questions/precharge-time.ts'
import { type DrawnStart, drawnStart } from '../helpers/drawn-start.ts'

const CAR: Vehicle = { precharge: { resistor_ohm: 100, link_farad: 0.001, ready_percent: 95 } }

function look(options: DrawnStart, vehicle: Vehicle = CAR) {
  const facts = gatherFacts(drawnStart(options), vehicle)
  const answer = precharge(facts)
  return { answer, row: answer.sections!.precharge![0]!, first: facts.once(judgedAttempts)[0]!.firstFailed }
}

describe('precharge', () => {
  it('fits a whole precharge: τ = R·C, ½ C V² in the resistor, no finding', () => {
    const { answer, row } = look({})
    expect(answer.findings).toEqual([])
    expect(row.assessed_from).toBe('curve')
    expect(row.tau_s).toBeCloseTo(0.1, 3)
    expect(row.energy_j).toBeCloseTo(80, 0)
    expect(row.reached_percent).toBeGreaterThan(99.5)
    expect(row.load_ohm).toBeNull()
    expect(row.load_ohm_low).toBeGreaterThan(5000)
  })

  it('finds the load across the link from where the curve levels off', () => {
    const { answer, row, first } = look({ closesS: null, loadOhm: 600 })
    expect(first).toBe('precharge')
    const [finding] = answer.findings
    expect(finding).toMatchObject({ kind: 'precharge-incomplete', severity: 'attention', unit: '%' })
    expect(finding!.value).toBeCloseTo((100 * 600) / 700, 1)
    expect(row.load_ohm).toBeCloseTo(600, -1)
    expect(row.load_ohm_low).toBeLessThan(600)
    expect(row.load_ohm_high).toBeGreaterThan(600)
  })

  it('says that the path is open where the link does not rise, with the rise in V', () => {
    const { answer, first } = look({ closesS: null, open: true })
    expect(first).toBe('precharge')
    expect(answer.findings[0]).toMatchObject({
      kind: 'precharge-open',
      severity: 'attention',
      unit: 'V',
      value: 0,
    })
    expect(answer.findings[0]!.reason).toContain('a short across the link is unlikely')
  })

  it('tells a short across the link from an open path by the current that flows', () => {
    const shorted = {
      closesS: null,
      loadOhm: 0.5,
      columns: { pack_current: (t: number) => (t >= 1.4 && t < 4.4 ? 4 : 0) },
    }
    const { answer } = look(shorted)
    expect(answer.findings[0]).toMatchObject({ kind: 'precharge-incomplete' })
    expect(answer.findings[0]!.headline).toContain('short')
  })

  /** P2, Formula Student EV5.7.1: 400 V pack, 379.9 V is a fault, 380.0 V is not. P1, FSAE EV.5.6.1.a: 359 / 360 V. */
  it.each([
    [95, 379.9, 'precharge'],
    [95, 380, 'positive'],
    [90, 359, 'precharge'],
    [90, 360, 'positive'],
  ])('at a ready percent of %s, %s V of 400 V held and nothing closing blames %s', (ready, volts, blamed) => {
    const share = volts / 400
    const { first } = look(
      { closesS: null, loadOhm: (100 * share) / (1 - share), givesUpS: 5 },
      { precharge: { ...CAR.precharge, ready_percent: ready } },
    )
    expect(first).toBe(blamed)
  })

  it('finds a positive contactor that closes before the ready percent', () => {
    const { answer } = look({ closesS: 1.52 })
    expect(answer.findings[0]).toMatchObject({ kind: 'precharge-incomplete', severity: 'attention' })
    expect(answer.findings[0]!.value!).toBeGreaterThan(60)
    expect(answer.findings[0]!.value!).toBeLessThan(75)
  })

  it('invents nothing under five samples: bounds, no τ, no load figure', () => {
    for (const periodS of [0.5, 1]) {
      const { row, answer } = look({ periodS, closesS: 2.5 })
      expect(row.samples_in_rise).toBeLessThan(5)
      expect(row.assessed_from).not.toBe('curve')
      expect(row.tau_s).toBeNull()
      expect(row.load_ohm).toBeNull()
      expect(row).toMatchObject({ bound: 'at-least', reached_percent_plus_minus: null })
      expect(answer.findings).toEqual([])
    }
  })

  it('at 1 Hz a link that stays short for three seconds is still found, by its end value', () => {
    const { answer, row } = look({ periodS: 1, closesS: null, loadOhm: 600, givesUpS: 6 })
    expect(row.assessed_from).toBe('end-value')
    expect(answer.findings[0]!.value).toBeCloseTo(85.7, 0)
  })

  it('reads the pack from its cells where no pack voltage is logged, and says so where neither is', () => {
    const cells = Object.fromEntries(
      Array.from({ length: 100 }, (_, k) => [`cell_voltage.${k + 1}`, () => 4]),
    )
    const { answer } = look({ closesS: null, loadOhm: 600, columns: cells, without: ['pack_voltage'] })
    expect(answer.findings[0]!.value).toBeCloseTo(85.7, 0)
    const blind = look({ closesS: null, loadOhm: 600, without: ['pack_voltage'] })
    expect(blind.answer.questions[0]!.state).toBe('not-assessed')
    expect(blind.answer.questions[0]!.missing).toContain('pack_voltage')
  })

  it('covers the load in its interval on noisy, stepped readings', () => {
    let covered = 0
    for (let run = 0; run < 20; run++) {
      const phase = 0.3 + run
      const noise = (t: number): number => Math.sin(t * 977 + phase) + Math.sin(t * 3511 + 2 * phase)
      const rise = (t: number): number =>
        t < 1.4 || t >= 4.4 ? 0 : 400 * (6 / 7) * (1 - Math.exp(-(t - 1.4) / (0.1 * (6 / 7))))
      const { row } = look({
        closesS: null,
        loadOhm: 600,
        columns: { link_voltage: (t) => Math.round((rise(t) + noise(t)) * 2) / 2 },
      })
      if (row.load_ohm_low! < 600 && row.load_ohm_high! > 600) covered++
    }
    expect(covered).toBeGreaterThanOrEqual(19)
  })

  it('a curve three times slower than the vehicle file’s R·C is looked at; one as the file says is not', () => {
    const time = (ohm: number) => prechargeTime(gatherFacts(drawnStart({ ohm, closesS: 3.5 }), CAR))
    expect(time(100).findings).toEqual([])
    expect(time(300).findings).toMatchObject([{ kind: 'precharge-time-off', severity: 'attention' }])
    expect(time(300).findings[0]!.value).toBeCloseTo(3, 1)
    expect(time(160).findings).toMatchObject([{ severity: 'note' }])
    expect(prechargeTime(gatherFacts(drawnStart(), {})).questions[0]!.state).toBe('not-assessed')
  })
})
