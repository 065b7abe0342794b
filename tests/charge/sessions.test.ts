import { describe, expect, it } from 'vitest'
import { chargeInterrupted } from '../../src/charge/questions/charge-interrupted.ts'
import { chargeSlow } from '../../src/charge/questions/charge-slow.ts'
import type { Facts } from '../../src/facts/facts.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

type Columns = Record<string, (t: number) => number>

/** A charge drawn every second: current from 20 to 1020 s, 20 A asked and given, 380 V, 230 V and 35 A from the wall. */
function charge(changed: Columns = {}, without: readonly string[] = [], lastS = 1100): Facts {
  const on = (t: number) => (t >= 20 && t < 1020 ? 1 : 0)
  const all: Columns = {
    charge_plug: (t) => (t >= 5 && t < 1090 ? 1 : 0),
    key_on: () => 0,
    speed: () => 0,
    charge_enable: (t) => (t >= 8 && t < 1018 ? 1 : 0),
    charge_current_request: (t) => (t >= 10 && t < 1018 ? 20 : 0),
    charge_voltage_request: () => 400,
    pilot_voltage: (t) => (t >= 5 && t < 1090 ? (t < 1022 ? 6 : 9) : 0),
    pilot_duty: (t) => (t >= 5 && t < 1090 ? 60 : 0),
    mains_voltage: (t) => (t >= 15 && t < 1024 ? 230 : 0),
    mains_current: (t) => 36.7 * on(t),
    charger_current: (t) => 20 * on(t),
    charger_voltage: () => 380,
    pack_current: (t) => -19 * on(t),
    pack_voltage: () => 380,
    soc: (t) => 50 + t / 400,
    contactor_positive: (t) => (t >= 10 && t < 1021 ? 1 : 0),
    interlock_closed: () => 1,
    ...changed,
  }
  const timeS = Float64Array.from({ length: lastS + 1 }, (_, i) => i)
  const columns = Object.fromEntries(
    Object.entries(all)
      .filter(([id]) => !without.includes(id))
      .map(([id, at]) => [id, timeS.map((t) => at(t))]),
  )
  const drive = driveFromColumns(timeS, columns)
  const pack = drive.channels.get('pack_current')
  const channels = new Map(drive.channels)
  if (pack) channels.set('pack_current', { ...pack, sign: 'proved' })
  return gatherFacts({ ...drive, channels }, {})
}

const row = (facts: Facts) => chargeSlow(facts).sections!.charge_sessions![0]!
/** Less than before from 320 to 720 s of 1000 s of current: 40 % of the time. */
const part = (before: number, then: number) => (t: number) =>
  t >= 20 && t < 1020 ? (t >= 320 && t < 720 ? then : before) : 0

describe('a charge session', () => {
  /** By hand: 19 A · 380 V · 1000 s = 2005.6 Wh into the pack; 36.7 A · 230 V · 1000 s = 2344.7 Wh from the wall. */
  it('energy into the pack and from the wall, efficiency, charge', () => {
    const { into_wh, into_wh_plus_minus, into_ah, wall_wh, efficiency_percent, wall_phases, phases } = row(
      charge(),
    )
    expect(Math.abs(into_wh! - 2005.6)).toBeLessThan(0.005 * 2005.6)
    expect(into_wh_plus_minus).toBeGreaterThan(0.01 * 2005.6)
    expect(into_ah).toBeCloseTo((19 * 1000) / 3600, 1)
    expect(Math.abs(wall_wh! - 2344.7)).toBeLessThan(0.005 * 2344.7)
    expect(efficiency_percent).toBeCloseTo((100 * 20 * 380) / (36.7 * 230), 0)
    expect(wall_phases).toBe(1)
    expect(phases.map(({ type }) => type)).toEqual(['constant-current'])
  })

  it('nothing is said of a charge that runs as asked and ends by the battery unit’s request', () => {
    const facts = charge()
    expect(chargeSlow(facts).findings).toEqual([])
    expect(chargeInterrupted(facts).findings).toEqual([])
    expect(row(facts).stops).toMatchObject([{ kind: 'ended', channel: 'charge_current_request' }])
  })

  it('three phases are told by the efficiency that one phase would give, and said', () => {
    const { wall_phases, notes } = row(charge({ mains_current: (t) => (t >= 20 && t < 1020 ? 12.2 : 0) }))
    expect(wall_phases).toBe(3)
    expect(notes.join()).toContain('three phases')
  })
})

describe('who held the current back', () => {
  /** Pilot: 26.7 % is 16 A (IEC 61851-1, A = 0.6 · %); a cable of 1500 Ω is built for 13 A. */
  it.each<[string, string, Columns]>([
    ['the charger', 'charger', { charger_current: part(20, 14), mains_current: part(36.7, 25.7) }],
    [
      'the station’s offer',
      'pilot',
      {
        charger_current: part(20, 8.3),
        mains_current: part(36.7, 16),
        pilot_duty: (t) => (t >= 320 && t < 720 ? 26.7 : 62),
      },
    ],
    [
      'the cable',
      'cable',
      { charger_current: part(20, 7), mains_current: part(36.7, 13), proximity_resistance: () => 1500 },
    ],
  ])('%s: 40 %% of the time', (_, by, columns) => {
    const facts = charge(columns)
    const [found] = chargeSlow(facts).findings
    expect(found).toMatchObject({ kind: 'charge-slow', severity: 'attention', subject: { type: 'charger' } })
    expect(Math.abs(found!.value! - 40)).toBeLessThan(0.5)
    expect(found!.low!).toBeLessThanOrEqual(40)
    expect(found!.high!).toBeGreaterThanOrEqual(40)
    expect(row(facts).held_s.find((each) => each.by === by)?.time_s).toBeCloseTo(400, -1)
  })

  it.each<[string, Columns]>([
    ['highest-cell', { highest_cell_voltage: (t) => (t > 600 ? 4.17 : 4) }],
    ['warmest', { hottest_temperature: (t) => (t > 600 ? 50 : 30) }],
    ['coldest', { coldest_temperature: (t) => (t > 600 ? 4 : 20) }],
    ['battery-unit', {}],
  ])('the request taken back, by %s: no slow charge', (by, columns) => {
    const lower = (t: number) => (t >= 10 && t < 1018 ? (t > 600 ? 9 : 20) : 0)
    const facts = charge({
      charge_current_request: lower,
      charger_current: (t) => (t >= 20 && t < 1020 ? lower(t) : 0),
      pack_current: (t) => (t >= 20 && t < 1020 ? -lower(t) : 0),
      ...columns,
    })
    expect(chargeSlow(facts).findings).toEqual([])
    expect(row(facts).held_s.find((each) => each.by === by)!.time_s).toBeGreaterThan(350)
    expect(row(facts).phases.map(({ type }) => type)).toEqual(['constant-current', 'taper'])
  })

  it('a voltage that stands where it was asked is constant voltage, not a slow charger', () => {
    const facts = charge({
      charger_current: part(20, 12),
      charger_voltage: (t) => (t >= 320 && t < 720 ? 400 : 380),
    })
    expect(chargeSlow(facts).findings).toEqual([])
    expect(row(facts).phases.map(({ type }) => type)).toContain('constant-voltage')
  })

  it('without a current request it is not assessed, and says what to log', () => {
    const [asked] = chargeSlow(charge({}, ['charge_current_request'])).questions
    expect(asked).toMatchObject({ state: 'not-assessed', missing: ['charge_current_request'] })
    expect(asked!.to_assess).toContain('current request')
  })
})

describe('a charge that breaks off', () => {
  const gone = (from: number, to: number, value: (t: number) => number) => (t: number) =>
    t >= from && t < to ? 0 : value(t)
  const flows = (from: number, to: number): Columns => ({
    charger_current: gone(from, to, (t) => (t >= 20 && t < 1020 ? 20 : 0)),
    pack_current: gone(from, to, (t) => (t >= 20 && t < 1020 ? -19 : 0)),
    mains_current: gone(from, to, (t) => (t >= 20 && t < 1020 ? 36.7 : 0)),
  })
  const steady: Columns = { charge_enable: () => 1, charge_current_request: () => 20 }

  it.each<[string, string, Columns]>([
    ['the mains', 'mains at the charger went away', { mains_voltage: gone(398, 470, () => 230) }],
    ['the station', 'station withdrew', { pilot_duty: (t) => (t >= 398 && t < 470 ? 100 : 60) }],
    ['a contactor', 'a contactor opened', { contactor_positive: gone(398, 470, () => 1) }],
    ['the loop', 'interlock loop opened', { interlock_closed: gone(398, 470, () => 1) }],
    ['the charger', 'was asked for current and gave none', {}],
  ])('by %s: 80 s, and what changed first', (_, words, columns) => {
    const [found] = chargeInterrupted(charge({ ...steady, ...flows(400, 480), ...columns })).findings
    expect(found).toMatchObject({
      kind: 'charge-interrupted',
      severity: 'attention',
      subject: { type: 'charger' },
      bound: 'exact',
    })
    expect(Math.abs(found!.value! - 80)).toBeLessThanOrEqual(found!.plus_minus!)
    expect(found!.headline).toContain(words)
  })

  it.each<[string, Columns]>([
    ['a full pack', { soc: () => 99, mains_voltage: gone(398, 2000, () => 230) }],
    ['charging no longer enabled', { charge_enable: (t) => (t < 398 ? 1 : 0) }],
    [
      'a driver who stops the station and unplugs',
      { pilot_duty: (t) => (t < 398 ? 60 : 100), charge_plug: (t) => (t >= 5 && t < 450 ? 1 : 0) },
    ],
  ])('%s ends a charge, and breaks nothing off', (_, columns) => {
    const facts = charge({ ...steady, ...flows(400, 2000), ...columns })
    expect(chargeInterrupted(facts).findings).toEqual([])
    expect(row(facts).stops).toMatchObject([{ kind: 'ended' }])
  })

  it('current that ends in a log that holds nothing else breaks nothing off', () => {
    const bare = ['charge_current_request', 'charge_enable', 'pilot_voltage', 'pilot_duty', 'mains_voltage']
    const facts = charge(flows(400, 2000), [...bare, 'contactor_positive', 'soc'])
    expect(chargeInterrupted(facts).findings).toEqual([])
  })

  it('a pause that the battery unit makes itself is a note', () => {
    const facts = charge({ ...flows(400, 480), charge_current_request: gone(399, 479, () => 20) })
    expect(chargeInterrupted(facts).findings).toMatchObject([{ severity: 'note' }])
  })

  it('one that does not come back lasts at least to the end of the plug’s time', () => {
    const facts = charge({ ...steady, ...flows(400, 2000), mains_voltage: gone(398, 2000, () => 230) })
    expect(chargeInterrupted(facts).findings).toMatchObject([{ bound: 'at-least' }])
  })

  it('a log without a charge is not assessed', () => {
    expect(
      chargeInterrupted(charge({}, ['charger_current', 'pack_current', 'charge_plug'])).questions,
    ).toMatchObject([{ state: 'not-assessed' }])
  })
})

describe('logs that hold less', () => {
  it('without the charger’s current the car’s own 12 V converter is allowed for', () => {
    const facts = charge({ pack_current: (t) => (t >= 20 && t < 1020 ? -18 : 0) }, ['charger_current'])
    expect(chargeSlow(facts).findings).toEqual([])
    expect(chargeSlow(facts).questions[0]).toMatchObject({ state: 'nothing-found' })
  })

  it('mains at the charger stand in for a plug that is not logged', () => {
    expect(row(charge({}, ['charge_plug', 'charger_current'])).into_wh).toBeGreaterThan(1900)
  })

  it('without a pilot, mains that go with the request for good are how a charge ends', () => {
    const gone = (value: number) => (t: number) => (t >= 400 ? 0 : value)
    const facts = charge(
      {
        charge_current_request: gone(20),
        charge_enable: gone(1),
        mains_voltage: gone(230),
        charger_current: (t) => (t >= 20 && t < 401 ? 20 : 0),
        pack_current: (t) => (t >= 20 && t < 401 ? -19 : 0),
      },
      ['pilot_voltage'],
    )
    expect(chargeInterrupted(facts).findings).toEqual([])
  })
})
