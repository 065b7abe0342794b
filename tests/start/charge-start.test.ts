import { describe, expect, it } from 'vitest'
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

describe('the charge chain', () => {
  it('a charge that begins: a chain of its own, no start, no finding', () => {
    const facts = charge()
    const answer = chargeStart(facts)
    expect(answer.findings).toEqual([])
    expect(answer.sections!.charges).toMatchObject([
      { reached: 'charging', first_failed: null, span_s: [10, 290] },
    ])
    expect(answer.sections!.charges![0]!.steps.map(({ name, at_s }) => [name, at_s])).toEqual([
      ['plug', 10],
      ['lock', 15],
      ['pilot', 20],
      ['battery', null],
      ['contactors', 30],
      ['current', 35],
    ])
    expect(startSteps(facts).sections!.starts).toEqual([])
  })

  const OPEN = { contactor_negative: () => 0, contactor_positive: () => 0 }
  const NONE = { charger_current: () => 0, pack_current: () => 0 }
  it.each([
    ['pilot', { pilot_duty: () => 100, ...OPEN }],
    ['contactors', { ...OPEN }],
    ['current', {}],
  ])('asked for and no current: %s is the first step that failed', (name, columns) => {
    const answer = chargeStart(charge({ ...NONE, ...columns }))
    expect(answer.findings).toMatchObject([
      { kind: 'charge-not-started', severity: 'attention', subject: { type: 'start-step', name }, value: 1 },
    ])
    expect(answer.sections!.charges![0]!.first_failed).toBe(name)
  })

  it('a plug that only waits, and a full car, are no failed charge', () => {
    const waiting = charge({ ...NONE, contactor_positive: () => 0 }, ['charge_lock', 'pilot_duty'])
    expect(chargeStart(waiting).findings).toEqual([])
    expect(chargeStart(charge({ ...NONE, soc: () => 99 })).findings).toEqual([])
  })
})
