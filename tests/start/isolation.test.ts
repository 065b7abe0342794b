import { describe, expect, it } from 'vitest'
import type { Vehicle } from '../../shared/vehicle.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { isolation } from '../../src/start/questions/isolation.ts'
import { type DrawnStart, drawnStart } from '../helpers/drawn-start.ts'

const slow = (value: (t: number) => number) => (t: number) =>
  Math.abs(t - Math.round(t)) < 0.001 ? value(t) : Number.POSITIVE_INFINITY

function look(kiloohm: (t: number) => number, options: DrawnStart = {}, vehicle: Vehicle = {}) {
  const columns = { isolation_resistance: slow(kiloohm), ...options.columns }
  return isolation(gatherFacts(drawnStart({ endS: 120, keyOffS: 110, ...options, columns }), vehicle))
}

describe('isolation', () => {
  /** I1, UN R100 5.1.3.1: 400 V, DC bus 100 Ω/V = 40.0 kΩ, with an AC bus 500 Ω/V = 200 kΩ. */
  it.each([
    [39.9, 'stop'],
    [40.1, 'attention'],
    [199.9, 'attention'],
    [200.1, null],
  ])('%s kΩ at 400 V: %s', (kiloohm, severity) => {
    const answer = look(() => kiloohm)
    expect(answer.findings[0]?.severity ?? null).toBe(severity)
    if (severity) expect(answer.findings[0]!.value).toBeCloseTo(kiloohm / 0.4, 6)
    expect(answer.sections!.isolation!.ohm_per_volt).toBeCloseTo(kiloohm / 0.4, 6)
  })

  /** I4, FS EV1.2.1 and FSAE EV.7.6.3: 500 Ω/V at 600 V is 300 kΩ. */
  it('299 kΩ at 600 V is under 500 Ω/V, 301 kΩ is not', () => {
    expect(look(() => 299, { packV: 600 }).findings).toHaveLength(1)
    expect(look(() => 301, { packV: 600 }).findings).toHaveLength(0)
  })

  it('held rows: a leak that reads the very same for minutes is as many readings, not one', () => {
    const drive = drawnStart({
      endS: 120,
      keyOffS: 110,
      columns: { isolation_resistance: (t) => (t < 40 ? 2600 + Math.floor(t) : 78) },
    })
    const channel = drive.channels.get('isolation_resistance')!
    const fresh = Uint8Array.from(channel.values, (value, i) => (value === channel.values[i - 1] ? 0 : 1))
    const channels = new Map(drive.channels).set(channel.id, { ...channel, fresh })
    const { findings } = isolation(gatherFacts({ ...drive, channels }, {}))
    expect(findings).toMatchObject([{ kind: 'isolation-low', severity: 'attention' }])
    expect(findings[0]!.value).toBeCloseTo(195, 6)
  })

  it('leaves the monitor’s start-up and its top value out', () => {
    const answer = look((t) => (t < 4 ? 20 * t : t < 40 ? 65535 : 1800 + 20 * Math.sin(t)))
    expect(answer.findings).toEqual([])
    expect(answer.sections!.isolation!.ohm_per_volt).toBeCloseTo(4500, -2)
    expect(answer.sections!.isolation!.note).toContain('top value')
  })

  it('a leak that comes with the contactors closed lies on the link’s side; one that stays is on the battery’s', () => {
    const link = look((t) => (t > 32 && t < 100 ? 90 : 3000), {}, {})
    expect(link.findings[0]!.onset_s).toBeGreaterThan(31)
    const whole = look((t) => 90 + Math.sin(t), { closesS: 60, keyOffS: 118 })
    expect(whole.sections!.isolation!.side).toContain('battery')
    const switched = look((t) => (t > 62 ? 90 : 3000) + Math.sin(t), { closesS: 60, keyOffS: 118 })
    expect(switched.sections!.isolation!.side).toContain('link')
  })

  it('0 throughout is no reading, and says so', () => {
    expect(look(() => 0).questions[0]).toMatchObject({
      state: 'not-assessed',
      why: expect.stringContaining('full short'),
    })
    expect(look((t) => (t < 50 ? 0 : 2400 + t)).sections!.isolation!.settled_from_s).toBe(50)
  })

  it('one or two low readings are no state', () => {
    expect(look((t) => (t === 50 || t === 51 ? 20 : 2000)).findings).toEqual([])
  })

  it('reads the voltage from all cells, and is not assessed without any voltage', () => {
    const cells = Object.fromEntries(
      Array.from({ length: 100 }, (_, k) => [`cell_voltage.${k + 1}`, () => 4]),
    )
    expect(look(() => 100, { columns: cells, without: ['pack_voltage'] }).findings[0]!.value).toBeCloseTo(
      250,
      0,
    )
    const blind = look(() => 100, { without: ['pack_voltage'] })
    expect(blind.questions[0]).toMatchObject({
      state: 'not-assessed',
      missing: ['pack_voltage'],
      area: 'isolation',
    })
  })

  it('uses the vehicle file’s minimum, and says the highest leak that it would have shown', () => {
    const answer = look(() => 100, {}, { isolation_min_ohm_per_volt: 200 })
    expect(answer.findings).toEqual([])
    expect(answer.questions[0]!.smallest_seen).toBeLessThan(200)
    expect(answer.questions[0]!.smallest_seen).toBeGreaterThan(100)
  })
})
