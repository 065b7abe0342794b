import { describe, expect, it } from 'vitest'
import type { Vehicle } from '../../shared/vehicle.ts'
import { cableAmperes, offerOf, pilotAmperes, pilotState } from '../../src/car/charge-pilot.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { chargeStart } from '../../src/start/questions/charge-start.ts'
import { startSteps } from '../../src/start/questions/start-chain.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

/** A charge drawn second by second: plug in at 10 s, locked at 15, offered at 20, closed at 30, 20 A from 35 on. */
function charge(changed: Record<string, (t: number) => number> = {}, without: readonly string[] = []) {
  const from =
    (at: number, to = 280) =>
    (t: number) =>
      t >= at && t < to ? 1 : 0
  const all: Record<string, (t: number) => number> = {
    key_on: () => 0,
    charge_plug: from(10, 290),
    charge_lock: from(15),
    charge_enable: from(16),
    pilot_voltage: (t) => (t < 10 || t >= 290 ? 0 : t >= 28 && t < 280 ? 6 : 9),
    proximity_resistance: (t) => (t >= 10 && t < 290 ? 220 : 1e5),
    pilot_duty: (t) => (t >= 20 && t < 280 ? 26 : 100),
    contactor_negative: from(29),
    contactor_positive: from(30),
    charger_current: (t) => (t >= 35 && t < 280 ? 20 : 0),
    pack_current: (t) => (t >= 35 && t < 280 ? -20 : 0),
    pack_voltage: () => 380,
    speed: () => 0,
    soc: () => 60,
    ...changed,
  }
  const timeS = Float64Array.from({ length: 301 }, (_, i) => i)
  const columns = Object.fromEntries(
    Object.entries(all)
      .filter(([id]) => !without.includes(id))
      .map(([id, at]) => [id, timeS.map((t) => at(t))]),
  )
  const drive = driveFromColumns(timeS, columns)
  const lock = drive.channels.get('charge_lock')
  const channels = new Map(drive.channels)
  if (lock) channels.set('charge_lock', { ...lock, polarity: 'as-named' })
  return gatherFacts({ ...drive, channels }, {})
}

/** The columns of a car that never came to ask: its contactors stay open and no current flows. */
const OPEN = { contactor_negative: () => 0, contactor_positive: () => 0 }
const NONE = { charger_current: () => 0, pack_current: () => 0 }
/** A car that waits for its timer: locked and offered current, and asking for nothing. */
const TIMER = { ...NONE, ...OPEN, charge_enable: () => 0, pilot_voltage: plugged(9, 0) }
/** What does not speak of asking: without these nobody can tell waiting from failing. */
const ASKING = ['charge_enable', 'pilot_voltage', 'bms_state']

function plugged(value: number, out: number): (t: number) => number {
  return (t) => (t >= 10 && t < 290 ? value : out)
}

describe('the charge chain', () => {
  it('a charge that begins: a chain of its own, no start, no finding', () => {
    const facts = charge()
    const answer = chargeStart(facts)
    expect(answer.findings).toEqual([])
    expect(answer.sections!.charges).toMatchObject([
      { reached: 'charging', first_failed: null, span_s: [10, 290] },
    ])
    expect(
      answer.sections!.charges![0]!.steps.filter(({ held }) => held).map(({ name, at_s }) => [name, at_s]),
    ).toEqual([
      ['plug', 10],
      ['proximity', null],
      ['pilot', 10],
      ['duty', 20],
      ['lock', 15],
      ['contactors', 30],
      ['state', 28],
      ['current', 35],
    ])
    expect(startSteps(facts).sections!.starts).toEqual([])
  })

  it.each([
    ['proximity', { proximity_resistance: (t) => 1e5 + (t % 7) }, ['nothing']],
    ['pilot', { pilot_voltage: plugged(12, 0), pilot_duty: () => 100, ...OPEN }, ['nothing']],
    ['duty', { pilot_duty: () => 100, pilot_voltage: plugged(9, 0), ...OPEN }, ['nothing']],
    ['lock', { charge_lock: () => 0, pilot_voltage: plugged(9, 0), ...OPEN }, ['nothing']],
    ['interlock', { interlock_closed: () => 0, ...OPEN }, ['nothing']],
    ['contactors', { ...OPEN }, ['nothing']],
    ['request', { charge_current_request: () => 0 }, ['nothing']],
    ['state', { pilot_voltage: plugged(9, 0), mains_voltage: () => 0 }, ['nothing']],
    ['mains', { mains_voltage: () => 0 }, ['nothing']],
    ['current', { mains_voltage: () => 230 }, ['nothing']],
    // a car that closes to 6 V before its battery unit wakes
    ['contactors', { ...OPEN, pilot_voltage: plugged(6, 0) }, ['charge_enable']],
  ] as [string, Record<string, (t: number) => number>, string[]][])(
    'asked for and no current: %s is the first step that failed',
    (name, columns, without) => {
      const answer = chargeStart(charge({ ...NONE, ...columns }, without))
      expect(answer.findings).toMatchObject([
        {
          kind: 'charge-not-started',
          severity: 'attention',
          subject: { type: 'start-step', name },
          value: 1,
        },
      ])
      expect(answer.sections!.charges![0]!.first_failed).toBe(name)
    },
  )

  it.each<[string, ReturnType<typeof charge>]>([
    ['a timer', charge(TIMER)],
    ['a station that is off', charge({ ...TIMER, pilot_voltage: () => 0, pilot_duty: () => 0 })],
    [
      'a station that is off and a car that asks',
      charge({ ...NONE, ...OPEN, pilot_voltage: () => 0, pilot_duty: () => 0 }),
    ],
    ['a full car', charge({ ...NONE, soc: () => 99 })],
    [
      'a plug alone',
      charge({ ...NONE, contactor_positive: () => 0 }, ['charge_lock', 'pilot_duty', ...ASKING]),
    ],
    ['a plug signal that stays on while driving', charge({ ...NONE, ...OPEN, speed: () => 40 })],
  ])('no failed charge: %s', (_, facts) => {
    expect(chargeStart(facts).findings).toEqual([])
  })

  it('where nothing logged tells asking from waiting, it is a note and says so', () => {
    const [found] = chargeStart(charge({ ...NONE, ...OPEN }, ASKING)).findings
    expect(found).toMatchObject({ severity: 'note', subject: { name: 'contactors' } })
    expect(found!.headline).toContain('whether one was asked for cannot be told')
  })

  it('the vehicle file leaves steps out and puts them in its own order', () => {
    const facts = charge({ ...NONE, ...OPEN, interlock_closed: () => 0 })
    const named = (charge_steps: Vehicle['charge_steps']): string | undefined =>
      chargeStart(gatherFacts(facts.drive, { charge_steps })).findings[0]?.subject.name
    expect(named({})).toBe('interlock')
    expect(named({ leave_out: ['interlock'] })).toBe('contactors')
    expect(named({ order: ['contactors', 'interlock'] })).toBe('contactors')
  })
})

/** IEC 61851-1, annex A (from memory): duty against current, and the pilot's states by their upper level. */
describe('what the pilot says', () => {
  it.each([
    [10, 6],
    [16, 9.6],
    [26.7, 16],
    [53.3, 32],
    [85, 51],
    [90, 65],
    [96, 80],
    [9, 6],
  ])('%s %% of duty is %s A', (duty, ampere) => {
    expect(pilotAmperes(duty)).toBeCloseTo(ampere, 1)
  })

  it('5 % is a digital agreement without a limit of its own; 0, 2 and 100 % offer nothing', () => {
    expect(offerOf(5)).toEqual({ says: 'digital' })
    expect(pilotAmperes(5)).toBeNaN()
    for (const duty of [0, 2, 7.5, 98, 100]) expect(offerOf(duty)).toEqual({ says: 'none' })
  })

  it.each([
    [12, 'not-connected'],
    [9, 'connected'],
    [6, 'asks'],
    [3, 'asks'],
    [0, 'none'],
    [-12, 'none'],
  ])('%s V: %s', (volt, state) => {
    expect(pilotState(volt)).toBe(state)
  })

  /** IEC 61851-1, annex B (from memory): 1500, 680, 220, 100 Ω code cables of 13, 20, 32, 63 A. */
  it.each([
    [1500, 13],
    [680, 20],
    [220, 32],
    [100, 63],
  ])('%s Ω is a cable for %s A', (ohm, ampere) => {
    expect(cableAmperes(ohm)).toBe(ampere)
  })
})
