import { describe, expect, it } from 'vitest'
import type { Drive } from '../../shared/drive.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { startSteps } from '../../src/start/questions/start-chain.ts'
import { BLOCKED, drawnStart } from '../helpers/drawn-start.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'
import { ORDER } from '../studies/start-family.ts'

const ask = (drive: Drive, vehicle: Vehicle = {}) => startSteps(gatherFacts(drive, vehicle))

describe('the start chain', () => {
  it('a start that goes through: every step in the contract’s order, reached driving, no finding', () => {
    const answer = ask(drawnStart())
    const [start] = answer.sections!.starts!
    expect(start!.steps.map(({ name }) => name)).toEqual(ORDER)
    expect(start).toMatchObject({ reached: 'driving', first_failed: null })
    expect(start!.steps.find(({ name }) => name === 'negative')!.at_s).toBeCloseTo(1.3, 6)
    expect(start!.steps.find(({ name }) => name === 'battery')!.held).toBeNull()
    expect(answer.findings).toEqual([])
    expect(answer.questions[0]).toMatchObject({
      state: 'nothing-found',
      smallest_seen: expect.closeTo(0.02, 6),
    })
  })

  it.each([
    ['interlock', { interlock_closed: () => 0 }],
    ['inertia', { inertia_closed: () => 0 }],
    ['plug', { charge_plug: () => 1 }],
    ['supply', { lv_voltage: () => 9.1 }],
  ])('nothing closes and %s is seen in the way: it is the first failed step', (name, column) => {
    const answer = ask(drawnStart({ columns: { ...BLOCKED, ...column } }))
    expect(answer.findings[0]).toMatchObject({
      kind: 'no-drive',
      severity: 'stop',
      value: 1,
      subject: { type: 'start-step', name },
    })
    expect(answer.sections!.starts![0]).toMatchObject({ reached: 'waiting', first_failed: name })
  })

  it('precharge runs, the link stays down and the negative contactor reads open all along: that is the step', () => {
    const columns = { contactor_negative: () => 0, link_voltage: () => 0.2 }
    const without = ask(drawnStart({ closesS: null, columns }))
    expect(without.findings[0]).toMatchObject({ kind: 'no-drive', subject: { name: 'negative' } })
    // A link that rose had its path, whatever the contactor reads.
    const rose = ask(drawnStart({ closesS: null, loadOhm: 500, columns: { contactor_negative: () => 0 } }))
    expect(rose.findings[0]!.subject.name).not.toBe('negative')
  })

  it('two at a time: the first in the chain is named', () => {
    const answer = ask(
      drawnStart({ columns: { ...BLOCKED, inertia_closed: () => 0, interlock_closed: () => 0 } }),
    )
    expect(answer.findings[0]!.subject.name).toBe('interlock')
  })

  it('nothing closes and nothing is seen in the way: the negative contactor, and what cannot be seen is said', () => {
    const answer = ask(drawnStart({ columns: BLOCKED, without: ['interlock_closed'] }))
    expect(answer.findings[0]!.subject.name).toBe('negative')
    expect(answer.findings[0]!.reason).toContain('interlock')
  })

  it('a switch whose polarity nothing proves accuses nobody', () => {
    const drive = drawnStart({ columns: { ...BLOCKED, interlock_closed: () => 0 } })
    const channels = new Map(drive.channels)
    channels.set('interlock_closed', { ...channels.get('interlock_closed')!, polarity: null })
    const answer = ask({ ...drive, channels })
    expect(answer.findings[0]!.subject.name).toBe('negative')
    const step = answer.sections!.starts![0]!.steps.find(({ name }) => name === 'interlock')
    expect(step).toMatchObject({ held: null, why: expect.stringContaining('proves') })
  })

  it('a loop that opens during precharge is blamed, not the precharge that it cut short', () => {
    const answer = ask(
      drawnStart({
        closesS: null,
        givesUpS: 1.5,
        columns: { interlock_closed: (t) => (t >= 1.48 && t < 1.6 ? 0 : 1) },
      }),
    )
    expect(answer.sections!.starts![0]!.first_failed).toBe('interlock')
  })

  it('contactors closed and no brake: the brake step; with brake pressure the switch itself is doubted', () => {
    const columns = {
      drive_ready: () => 0,
      brake_switch: () => 0,
      speed: () => 0,
      selector: () => 0,
      pedal_position: () => 0,
    }
    const idle = ask(drawnStart({ columns }))
    expect(idle.sections!.starts![0]!.first_failed).toBe('brake')
    expect(idle.findings[0]).toMatchObject({ kind: 'no-drive', subject: { name: 'brake' } })
    const pressed = ask(drawnStart({ columns: { ...columns, brake_pressure: () => 20 } }))
    expect(pressed.findings[0]).toMatchObject({ severity: 'stop' })
    expect(pressed.findings[0]!.reason).toContain('pressure was there')
  })

  it('somebody who turns the key, sees ready and does not drive is no no-drive', () => {
    const columns = { speed: () => 0, selector: () => 0, pedal_position: () => 0, pack_current: () => 0 }
    const answer = ask(drawnStart({ columns }))
    expect(answer.findings).toEqual([])
    expect(answer.sections!.starts![0]).toMatchObject({ reached: 'ready', first_failed: null })
  })

  it('ready, in gear, pedal pressed and neither torque nor movement: torque is the failed step', () => {
    const answer = ask(drawnStart({ columns: { speed: () => 0, torque: () => 0 } }))
    expect(answer.findings[0]).toMatchObject({ kind: 'no-drive', subject: { name: 'torque' } })
  })

  it('a failed attempt before one that comes through is intermittent, and both are in starts', () => {
    const first = { key_on: (t: number) => (t < 1 || (t >= 6 && t < 8) || t >= 25 ? 0 : 1) }
    const shift = (from: number, to: number) => (t: number) => (t >= from && t < to ? 1 : 0)
    const answer = ask(
      drawnStart({
        columns: {
          ...first,
          interlock_closed: (t) => (t < 7 ? 0 : 1),
          contactor_negative: shift(8.3, 25),
          contactor_precharge: shift(8.4, 9.2),
          contactor_positive: shift(9, 25),
          drive_ready: shift(9.4, 25),
          link_voltage: (t) => (t < 8.4 || t > 25 ? 0 : t < 9 ? 400 * (1 - Math.exp(-(t - 8.4) / 0.1)) : 400),
          speed: () => 0,
          selector: () => 0,
          pedal_position: () => 0,
        },
      }),
    )
    expect(answer.sections!.starts!.map((start) => start.first_failed)).toEqual(['interlock', null])
    expect(answer.findings).toMatchObject([
      { kind: 'no-drive', severity: 'attention', subject: { name: 'interlock' } },
    ])
    expect(answer.findings[0]!.headline).toContain('1 of 2 attempts')
  })

  it('a log that opens while the car drives: start not seen, nobody accused', () => {
    const timeS = Array.from({ length: 200 }, (_, i) => i * 0.1)
    const on = timeS.map(() => 1)
    const answer = ask(
      driveFromColumns(timeS, {
        key_on: on,
        contactor_negative: on,
        contactor_positive: on,
        drive_ready: on,
        speed: timeS.map(() => 50),
      }),
    )
    expect(answer.sections!.starts![0]).toMatchObject({ reached: 'driving', first_failed: null })
    expect(answer.sections!.starts![0]!.steps.find(({ name }) => name === 'precharge')!.why).toContain(
      'start not seen',
    )
    expect(answer.questions[0]).toMatchObject({
      state: 'not-assessed',
      why: expect.stringContaining('start not seen'),
    })
  })

  it('the vehicle file leaves steps out, adds and orders them', () => {
    const answer = ask(drawnStart({ columns: { ...BLOCKED, 'side stand up': () => 0 } }), {
      start_steps: {
        leave_out: ['isolation', 'brake'],
        add: [{ name: 'stand', channel: 'side stand up', after: 'key' }],
      },
    })
    const names = answer.sections!.starts![0]!.steps.map(({ name }) => name)
    expect(names).not.toContain('isolation')
    expect(names.indexOf('stand')).toBe(names.indexOf('key') + 1)
    expect(answer.findings[0]!.subject.name).toBe('stand')
    const listed = ask(drawnStart(), { start_steps: ['key', 'positive', 'ready'] })
    expect(listed.sections!.starts![0]!.steps.map(({ name }) => name)).toEqual(['key', 'positive', 'ready'])
  })

  it('says what to log where nothing shows a start', () => {
    const answer = ask(driveFromColumns([0, 1, 2], { 'cell_voltage.1': [4, 4, 4] }))
    expect(answer.questions[0]).toMatchObject({
      state: 'not-assessed',
      missing: expect.arrayContaining(['key_on']),
    })
    expect(answer.sections!.starts).toEqual([])
  })

  it('charging with the key on is no attempt to start', () => {
    const answer = ask(
      drawnStart({
        columns: {
          charge_plug: () => 1,
          pack_current: (t) => (t > 3 ? -12 : 0),
          drive_ready: () => 0,
          speed: () => 0,
        },
      }),
    )
    expect(answer.findings).toEqual([])
    expect(answer.sections!.starts).toEqual([])
  })

  it('only a key and a drive ready that never comes: drive ready is what is seen to fail, the rest is unseen', () => {
    const kept = ['key_on', 'drive_ready', 'speed', 'brake_switch']
    const all = drawnStart({ columns: BLOCKED })
    const drive = { ...all, channels: new Map([...all.channels].filter(([id]) => kept.includes(id))) }
    const answer = ask(drive)
    expect(answer.findings[0]).toMatchObject({ kind: 'no-drive', subject: { name: 'ready' } })
    expect(answer.findings[0]!.reason).toContain('negative')
  })
})
