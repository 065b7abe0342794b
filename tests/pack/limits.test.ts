import { describe, expect, it } from 'vitest'
import type { Vehicle } from '../../shared/vehicle.ts'
import { lamps } from '../../src/brake/questions/lamps.ts'
import { chargeCount } from '../../src/current/questions/charge-count.ts'
import { chargeLimits } from '../../src/current/questions/charge-limits.ts'
import { currentSensor } from '../../src/current/questions/current-sensor.ts'
import type { Facts } from '../../src/facts/facts.ts'
import { chargeWhenCold } from '../../src/heat/questions/charge-when-cold.ts'
import { mainPath } from '../../src/pack/questions/main-path.ts'
import { voltageLimits } from '../../src/pack/questions/voltage-limits.ts'
import { supply } from '../../src/start/questions/supply-dcdc.ts'
import { conditioned, noise, SMALL_VEHICLE, smallDrive } from '../helpers/stop-and-go.ts'

const small = smallDrive()
const MINE = [
  chargeCount,
  chargeLimits,
  chargeWhenCold,
  currentSensor,
  lamps,
  mainPath,
  supply,
  voltageLimits,
] as const

type Change = (value: number, at: number, index: number) => number
/** Facts of the small drive with columns changed or added (a change of a column that is not there starts from 0). */
function factsWith(changes: Readonly<Record<string, Change>>, vehicle: Vehicle = SMALL_VEHICLE): Facts {
  const columns = { ...small.columns }
  for (const [id, change] of Object.entries(changes)) {
    const base = columns[id] ?? new Float64Array(small.timeS.length)
    columns[id] = base.map((value, i) => change(value, small.timeS[i]!, i))
  }
  return conditioned({ timeS: small.timeS, columns }, vehicle).facts
}
const between =
  (from: number, to: number, then: number): Change =>
  (value, t) =>
    t >= from && t < to ? then : value

describe('a healthy drive', () => {
  it('gives no finding and answers every question', () => {
    const facts = factsWith({
      charge_limit: () => 150,
      discharge_limit: () => 300,
      soc: (_, t) => 80 - t / 400,
      'module_temperature.1': () => 20,
      brake_lamp: (_, __, i) => small.columns.brake_switch![i]!,
      reverse_lamp: () => 0,
      'box_voltage.1': (_, __, i) => small.columns.pack_voltage![i]!,
    })
    for (const run of MINE) {
      const answer = run(facts)
      expect([run.name, answer.findings.map((each) => each.kind)]).toEqual([run.name, []])
      for (const question of answer.questions)
        expect([question.question, question.state]).toEqual([question.question, 'nothing-found'])
    }
  })

  it.each([
    ['nothing logged', {}],
    ['all readings missing', Object.fromEntries(Object.keys(small.columns).map((id) => [id, Number.NaN]))],
  ])('with %s is not assessed and throws nothing', (_, values) => {
    const columns = Object.fromEntries(
      Object.entries(values).map(([id, value]) => [id, small.timeS.map(() => value)]),
    )
    const { facts } = conditioned({ timeS: small.timeS, columns })
    for (const run of MINE) expect(run(facts).findings).toEqual([])
  })

  it('with a single sample throws nothing', () => {
    const columns = Object.fromEntries(
      Object.entries(small.columns).map(([id, values]) => [id, values.slice(0, 1)]),
    )
    const { facts } = conditioned({ timeS: small.timeS.slice(0, 1), columns })
    for (const run of MINE) expect(run(facts).findings).toEqual([])
  })
})

describe('cell voltage limits', () => {
  it('stops for a cell held above its limit for 0.6 s, with the reading', () => {
    const high = factsWith({
      'cell_voltage.7': between(60, 60.6, 4.26),
      pack_voltage: (v, t) => (t >= 60 && t < 60.6 ? v + 0.26 : v),
    })
    const [found] = voltageLimits(factsWithout(high, 'pack_voltage')).findings
    expect(found).toMatchObject({
      kind: 'cell-voltage-limit',
      severity: 'stop',
      subject: { type: 'cell', index: 7 },
    })
    expect(found!.value).toBeCloseTo(4.26, 3)
    expect(found!.limit).toBe(4.2)
  })

  it.each([
    ['0.4 s', between(60, 60.4, 4.26)],
    ['a sentinel of 6.5535 V', between(60, 70, 6.5535)],
    ['a reading of 0 V', between(60, 70, 0)],
    ['a lead that is off: 2.2 V that the pack does not follow', between(60, 70, 2.2)],
  ])('leaves %s alone (Formula Student T11.7.8: over 500 ms)', (_, change) => {
    expect(voltageLimits(factsWith({ 'cell_voltage.7': change })).findings).toEqual([])
  })

  it('takes the vehicle file’s limit', () => {
    const facts = factsWith({}, { pack: { ...SMALL_VEHICLE.pack, cell_voltage_max: 3.95 } })
    const { findings } = voltageLimits(facts)
    expect(findings.length).toBe(3)
    expect(findings[0]).toMatchObject({ limit: 3.95, limit_source: 'vehicle file' })
    expect(findings[0]!.reason).toContain('83 more cells')
  })
})

/** The same facts with a channel hidden: nothing then contradicts the cell. */
function factsWithout(facts: Facts, id: string): Facts {
  const channels = new Map(facts.drive.channels)
  channels.delete(id)
  const known = new Map<unknown, unknown>()
  const without: Facts = {
    ...facts,
    drive: { ...facts.drive, channels },
    once<T>(model: (facts: Facts) => T): T {
      if (!known.has(model)) known.set(model, model(without))
      return known.get(model) as T
    },
  }
  return without
}

describe('limits of the battery unit', () => {
  const peak = Math.max(...small.trueAmperes)
  it.each([
    ['as sent', 1],
    ['with a negative sign', -1],
  ])('finds discharge over the limit, limit %s', (_, sign) => {
    const [found] = chargeLimits(
      factsWith({ discharge_limit: () => sign * 0.6 * peak, charge_limit: () => 300 }),
    ).findings
    expect(found).toMatchObject({ kind: 'discharge-current-over-limit', severity: 'attention' })
    expect(found!.value).toBeGreaterThan(0.8 * peak)
    expect(found!.limit).toBeCloseTo(0.6 * peak, 6)
  })

  it('finds charging over the limit', () => {
    const [found] = chargeLimits(factsWith({ charge_limit: () => 50, discharge_limit: () => 500 })).findings
    expect(found?.kind).toBe('charge-current-over-limit')
  })

  it('allows a limit that falls one second before the current follows', () => {
    const facts = factsWith({
      discharge_limit: (_, t, i) => {
        const soon = small.trueAmperes.subarray(i, i + 20)
        return t < 13 ? 300 : Math.max(20, ...soon) + 5
      },
      charge_limit: () => 300,
    })
    expect(chargeLimits(facts).findings).toEqual([])
  })
})

describe('charging when cold', () => {
  it('reports regeneration at −1 °C (lithium-ion charge window from 0 °C)', () => {
    const facts = factsWith({ 'module_temperature.1': () => -1, 'module_temperature.2': () => 1 })
    const [found] = chargeWhenCold(facts).findings
    expect(found).toMatchObject({ kind: 'charge-when-cold', severity: 'stop', value: -1, limit: 0 })
  })

  it('does not believe one sensor far below all others', () => {
    const facts = factsWith({ 'module_temperature.1': () => -25, 'module_temperature.2': () => 14 })
    expect(chargeWhenCold(facts).findings).toEqual([])
  })

  it('says nothing of a cold pack that is only discharged', () => {
    const facts = factsWith({
      'module_temperature.1': () => -5,
      pack_current: (value) => Math.max(0.2, value),
    })
    expect(chargeWhenCold(facts).findings).toEqual([])
  })
})

describe('charge count', () => {
  const counted = (): Float64Array => {
    let ah = 0
    return small.trueAmperes.map((amperes) => (ah += amperes / 20 / 3600))
  }
  it('agrees with a state of charge that follows', () => {
    const ah = counted()
    expect(chargeCount(factsWith({ soc: (_, __, i) => 80 - (100 * ah[i]!) / 60 })).findings).toEqual([])
  })

  it('finds one that runs 8 points away', () => {
    const ah = counted()
    const facts = factsWith({ soc: (_, t, i) => 80 - (100 * ah[i]!) / 60 - (t > 100 ? 8 : 0) })
    const [found] = chargeCount(facts).findings
    expect(found?.kind).toBe('soc-disagrees')
    expect(found!.low).toBeLessThan(8)
    expect(found!.high).toBeGreaterThan(7.5)
  })
})

describe('paths outside the cells', () => {
  // Ohm's law: 12 mΩ at 100 A drop 1.2 V
  it('finds 12 mΩ between cells and pack terminals', () => {
    const facts = factsWith({ pack_voltage: (v, _, i) => v - 0.012 * small.trueAmperes[i]! })
    const [found] = mainPath(facts).findings
    expect(found?.kind).toBe('main-path-resistance-high')
    expect(found!.low).toBeLessThan(12)
    expect(found!.high).toBeGreaterThan(12)
    expect(found!.plus_minus).toBeLessThan(3)
  })

  it('finds 9 mΩ in the contactors although the link reads 0.2 s late', () => {
    const facts = factsWith({
      link_voltage: (v, t, i) =>
        t < 12 ? v : small.columns.link_voltage![i - 4]! - 0.009 * small.trueAmperes[i - 4]!,
    })
    const [found] = mainPath(facts).findings
    expect(found?.kind).toBe('contactor-resistance-high')
    expect(found!.low).toBeLessThan(9)
    expect(found!.high).toBeGreaterThan(9)
  })

  it('an estimate just past the limit whose interval reaches down to healthy paths blames nothing', () => {
    const hiss = noise(12)
    const facts = factsWith({ pack_voltage: (v, _, i) => v - 0.007 * small.trueAmperes[i]! + 0.5 * hiss() })
    const { findings, questions } = mainPath(facts)
    expect(questions[0]!.why).toMatch(/^6\.\d+ ± [23]\.\d+ mΩ/)
    expect(findings).toEqual([])
  })

  it('does not blame a path that the reading does not hold', () => {
    const facts = factsWith({}, { pack: { ...SMALL_VEHICLE.pack, pack_voltage_at: 'cells' } })
    expect(mainPath(facts).questions[0]).toMatchObject({ state: 'not-assessed' })
  })
})

describe('12 V supply', () => {
  it('finds a converter that never takes over', () => {
    const [found] = supply(factsWith({ lv_voltage: () => 12.3 })).findings
    expect(found).toMatchObject({ kind: 'dcdc-not-charging', severity: 'attention' })
    expect(found!.value).toBeCloseTo(12.3, 6)
  })

  it('finds a supply under 10.5 V while driving', () => {
    const kinds = supply(factsWith({ lv_voltage: between(60, 100, 10.1) })).findings.map((each) => each.kind)
    expect(kinds).toContain('lv-voltage-low')
  })
})

describe('lamps', () => {
  const brake: Change = (_, __, i) => small.columns.brake_switch![i]!
  it('finds a brake lamp that stays dark', () => {
    const facts = factsWith({ brake_lamp: (_, t, i) => (t < 150 ? small.columns.brake_switch![i]! : 0) })
    const [found] = lamps(facts).findings
    expect(found).toMatchObject({ kind: 'lamp-disagrees', subject: { type: 'lamp', name: 'brake' } })
    expect(found!.value).toBeGreaterThan(5)
  })

  it('allows half a second of delay', () => {
    const late: Change = (_, __, i) => small.columns.brake_switch![Math.max(0, i - 10)]!
    expect(lamps(factsWith({ brake_lamp: late })).findings).toEqual([])
    expect(lamps(factsWith({ brake_lamp: brake })).findings).toEqual([])
  })
})

describe('the current sensor', () => {
  it('reports a zero of 4 A and removes it', () => {
    const [found] = currentSensor(factsWith({ pack_current: (value) => value + 4 })).findings
    expect(found).toMatchObject({ kind: 'current-offset', severity: 'attention' })
    expect(found!.low).toBeLessThan(4.05)
    expect(found!.high).toBeGreaterThan(3.95)
  })

  it('reports the end of the range as a lower bound', () => {
    const [found] = currentSensor(factsWith({ pack_current: (value) => Math.min(60, value) })).findings
    expect(found).toMatchObject({ kind: 'current-clipped', bound: 'at-least' })
    expect(found!.value).toBeCloseTo(60, 0)
  })

  it('does not take a driver’s plateau on a coarse log for a clipped one', () => {
    const gauss = noise(9)
    const facts = factsWith({
      pack_current: (_, t, i) =>
        t > 50 && t < 60 ? 80 : Math.round(Math.min(80, small.trueAmperes[i]!) + 0.01 * gauss()),
      torque: (value, t) => (t > 50 && t < 60 ? 40 : value),
    })
    const kinds = currentSensor(facts).findings.map((each) => each.kind)
    expect(kinds).not.toContain('current-offset')
  })
})
