import { describe, expect, it } from 'vitest'
import { gatherFacts } from '../../src/review/run-all.ts'
import { chargeIsolation } from '../../src/start/questions/charge-isolation.ts'
import { isolation } from '../../src/start/questions/isolation.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

/** 400 V; plugged in from 100 to 500 s, charging from 130 to 480 s; a reading a second. */
function facts(kiloohm: (plugged: boolean, t: number) => number, endS = 600) {
  const timeS = Float64Array.from({ length: endS + 1 }, (_, i) => i)
  const plugged = (t: number) => t >= 100 && t < 500
  return gatherFacts(
    driveFromColumns(timeS, {
      key_on: timeS.map(() => 0),
      charge_plug: timeS.map((t) => (plugged(t) ? 1 : 0)),
      charger_current: timeS.map((t) => (t >= 130 && t < 480 ? 20 : 0)),
      pack_voltage: timeS.map(() => 400),
      isolation_resistance: timeS.map((t) => kiloohm(plugged(t), t) + (t % 3)),
    }),
    {},
  )
}

/**
 * UN R100 5.1.3.1 and the same for a vehicle connected to its station (ISO 17409; both from memory): 500 Ω/V at 400 V is
 * 200 kΩ, 100 Ω/V is 40 kΩ.
 */
describe('isolation with the plug in', () => {
  it('a drop only with the charger connected is the charger’s side, never the pack’s', () => {
    const made = facts((plugged) => (plugged ? 36 : 2600))
    expect(isolation(made).findings).toEqual([])
    const [found] = chargeIsolation(made).findings
    expect(found).toMatchObject({
      kind: 'charger-isolation-low',
      severity: 'note',
      subject: { type: 'charger' },
    })
    expect(found!.value).toBeCloseTo(37 / 0.4, 0)
    expect(found!.headline).toContain('charger side')
  })

  it('low without the charger too is the pack’s own, told once', () => {
    const made = facts(() => 36)
    expect(isolation(made).findings).toMatchObject([{ kind: 'isolation-low', severity: 'stop' }])
    expect(chargeIsolation(made).findings).toEqual([])
  })

  it('low, and never read without the charger: attention, to be read unplugged', () => {
    const made = facts((plugged) => (plugged ? 150 : Number.POSITIVE_INFINITY))
    expect(isolation(made).findings).toEqual([])
    expect(chargeIsolation(made).findings).toMatchObject([{ severity: 'attention' }])
  })

  it.each([
    [199, 1],
    [204, 0],
  ])('%s kΩ at 400 V against 500 Ω/V', (kiloohm, findings) => {
    expect(chargeIsolation(facts((plugged) => (plugged ? kiloohm - 1 : 2600))).findings).toHaveLength(
      findings,
    )
  })

  it('without a charge it is not assessed', () => {
    expect(chargeIsolation(facts(() => 2600, 90)).questions).toMatchObject([{ state: 'not-assessed' }])
  })
})
