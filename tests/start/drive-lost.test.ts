import { describe, expect, it } from 'vitest'
import { gatherFacts } from '../../src/review/run-all.ts'
import { driveLost } from '../../src/start/questions/drive-lost.ts'
import { loops } from '../../src/start/questions/loops.ts'
import { BLOCKED, type DrawnStart, drawnStart } from '../helpers/drawn-start.ts'

const facts = (options: DrawnStart) => gatherFacts(drawnStart(options), {})

/** At 10 s the interlock opens, the contactors follow 40 ms later, drive ready 60 ms later; the key stays on. */
const lost = (more: DrawnStart['columns'] = {}): DrawnStart => ({
  keyOffS: 10.04,
  columns: {
    key_on: (t) => (t < 1 ? 0 : 1),
    interlock_closed: (t) => (t >= 9.999 ? 0 : 1),
    drive_ready: (t) => (t >= 2.6 && t < 10.06 ? 1 : 0),
    ...more,
  },
})

describe('drive lost', () => {
  it('names what changed first, with the speed and the order of events', () => {
    const answer = driveLost(facts(lost()))
    expect(answer.findings).toMatchObject([
      {
        kind: 'drive-lost',
        severity: 'stop',
        subject: { type: 'start-step', name: 'interlock' },
        unit: 'km/h',
      },
    ])
    expect(answer.findings[0]!.value).toBeCloseTo(30, 0)
    expect(answer.findings[0]!.reason.indexOf('interlock')).toBeLessThan(
      answer.findings[0]!.reason.indexOf('contactor'),
    )
  })

  it('at 1 Hz the order cannot be read: causes are named before effects and the rest is left open', () => {
    const same = {
      interlock_closed: (t: number) => (t >= 9.3 ? 0 : 1),
      drive_ready: (t: number) => (t >= 2.6 && t < 9.4 ? 1 : 0),
    }
    const answer = driveLost(facts({ ...lost(same), keyOffS: 9.34, periodS: 1 }))
    expect(answer.findings[0]!.subject.name).toBe('interlock')
    expect(answer.findings[0]!.reason).toContain('resolution does not decide')
  })

  it('contactors that open with no cause in the log are named themselves, and that is said', () => {
    const answer = driveLost(facts(lost({ interlock_closed: () => 1 })))
    expect(['negative', 'positive']).toContain(answer.findings[0]!.subject.name)
    expect(answer.findings[0]!.reason).toContain('not in this log')
  })

  it('where only the link shows it, the link that leaves the pack under load is a loss, and no part is accused', () => {
    const without = [
      ...['contactor_negative', 'contactor_precharge', 'contactor_positive'],
      ...['drive_ready', 'interlock_closed'],
    ]
    const [found] = driveLost(
      facts({ ...lost({ pack_current: (t) => (t >= 5 && t < 10.04 ? 40 : 0) }), without }),
    ).findings
    expect(found).toMatchObject({ kind: 'drive-lost', severity: 'stop' })
    expect(found!.headline).toContain('the link left the pack')
    expect(driveLost(facts({ without })).findings).toEqual([])
  })

  it('key off at standstill is no loss; key off while moving is', () => {
    expect(driveLost(facts({})).findings).toEqual([])
    expect(driveLost(facts({ keyOffS: 10 })).findings).toMatchObject([{ subject: { name: 'key' } }])
  })

  it('drive ready that reads off for a moment while the motor pulls on is no loss', () => {
    const blink = (t: number): number => (t >= 2.6 && t < 20 && !(t >= 8 && t < 9) ? 1 : 0)
    const pulls = { drive_ready: blink, torque: (t: number) => (t >= 5 && t < 12 ? 60 : 0) }
    expect(driveLost(facts({ columns: pulls })).findings).toEqual([])
    const stops = { ...pulls, torque: (t: number) => (t >= 5 && t < 8 ? 60 : 0) }
    expect(driveLost(facts({ columns: stops })).findings).toMatchObject([{ subject: { name: 'ready' } }])
  })

  it('is not assessed where the car is never seen ready', () => {
    expect(driveLost(facts({ closesS: null, loadOhm: 500 })).questions[0]!.state).toBe('not-assessed')
  })
})

describe('loops', () => {
  it('an interlock that opens for good while driving: stop (the contract), a lower bound', () => {
    const answer = loops(facts(lost()))
    expect(answer.findings).toMatchObject([{ kind: 'interlock-open', severity: 'stop', bound: 'at-least' }])
    expect(answer.findings[0]!.value).toBeCloseTo(20, 0)
  })

  it('10 ms open with everything carrying on: seen, a note', () => {
    const answer = loops(
      facts({ periodS: 0.01, columns: { inertia_closed: (t) => (Math.abs(t - 9) < 0.005 ? 0 : 1) } }),
    )
    expect(answer.findings).toMatchObject([{ kind: 'inertia-switch-open', severity: 'note' }])
    expect(answer.findings[0]!.value).toBeCloseTo(0.01, 6)
    expect(answer.questions[0]!.smallest_seen).toBeCloseTo(0.01, 6)
  })

  it('a loop that opens with the key off is nobody’s business', () => {
    expect(loops(facts({ columns: { interlock_closed: (t) => (t > 22 ? 0 : 1) } })).findings).toEqual([])
  })

  it('plug and selector in the way of an attempt that failed, with the time they were', () => {
    const plug = loops(facts({ columns: { ...BLOCKED, charge_plug: () => 1 } }))
    expect(plug.findings).toMatchObject([{ kind: 'charge-plug-in', severity: 'attention' }])
    expect(plug.findings[0]!.value).toBeCloseTo(19, 1)
    const gear = loops(facts({ columns: { drive_ready: () => 0, selector: () => 1, speed: () => 0 } }))
    expect(gear.findings).toMatchObject([{ kind: 'selector-not-neutral', severity: 'attention' }])
  })

  it('a 12 V supply too low to start', () => {
    const answer = loops(
      facts({
        columns: {
          ...BLOCKED,
          lv_voltage: () => 9.4,
        },
      }),
    )
    expect(answer.findings).toMatchObject([{ kind: 'lv-voltage-low', value: 9.4, severity: 'attention' }])
  })

  // motor speed, then nothing: motion comes from whatever shows it
  it('without road speed the motor\u2019s speed shows that the car moved; with neither, nothing is claimed', () => {
    const drive = drawnStart(lost())
    const kmh = drive.channels.get('speed')!
    const bare = new Map([...drive.channels].filter(([id]) => !/^(wheel_)?speed|motor_speed/.test(id)))
    const turning = new Map([
      ...bare,
      ['motor_speed', { ...kmh, id: 'motor_speed', unit: 'rpm', values: kmh.values.map((v) => 85 * v) }],
    ])
    const byMotor = driveLost(gatherFacts({ ...drive, channels: turning }, {}))
    expect(byMotor.findings).toMatchObject([{ kind: 'drive-lost', severity: 'stop', value: null }])
    expect(byMotor.findings[0]!.headline).toContain('while moving')
    const still = drawnStart({})
    const unseen = new Map([...still.channels].filter(([id]) => !/^(wheel_)?speed|motor_speed/.test(id)))
    expect(driveLost(gatherFacts({ ...still, channels: unseen }, {})).questions).toMatchObject([
      { state: 'not-assessed' },
    ])
  })
})
