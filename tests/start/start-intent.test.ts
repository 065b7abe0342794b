import { describe, expect, it } from 'vitest'
import type { Drive } from '../../shared/drive.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { BLOCKED, drawnStart } from '../helpers/drawn-start.ts'

const review = (drive: Drive, vehicle: Vehicle = {}) => reviewDrive(drive, vehicle)
const STATES: Vehicle = {
  states: { bms: { '0': 'asleep', '1': 'idle', '6': 'closed', '7': 'charging', '9': 'fault' } },
}
/** Nobody touches brake or selector. */
const ALONE = { brake_switch: () => 0, selector: () => 0, pedal_position: () => 0 }
const unproved = (drive: Drive, id: string): Drive => {
  const channels = new Map(drive.channels)
  channels.set(id, { ...channels.get(id)!, polarity: null })
  return { ...drive, channels }
}
const noDrives = (made: ReturnType<typeof review>) => made.findings.filter(({ kind }) => kind === 'no-drive')

describe('what begins an attempt to start (the contract)', () => {
  it('the key alone is no attempt: it waits, and where nothing ever came through that is said', () => {
    const made = review(drawnStart({ keyOffS: 28, columns: { ...BLOCKED, ...ALONE } }))
    expect(made.starts).toMatchObject([{ reached: 'waiting', first_failed: null }])
    expect(noDrives(made)).toMatchObject([{ severity: 'attention' }])
    expect(noDrives(made)[0]!.headline).toContain('whether a start was asked for cannot be told')
    expect(made.verdict.state).not.toBe('cannot-drive')
  })

  it('the key turned again after drive was lost brings nothing back: the car still cannot drive', () => {
    const key = (t: number) => (t < 1 || (t >= 14 && t < 20) || t >= 28 ? 0 : 1)
    const closed = (from: number) => (t: number) => (t >= from && t < 10 ? 1 : 0)
    const columns = {
      key_on: key,
      brake_switch: (t: number) => (t < 4.5 ? 1 : 0),
      selector: (t: number) => (t >= 4 ? 1 : 0),
      interlock_closed: (t: number) => (t < 9.9 ? 1 : 0),
      contactor_negative: closed(1.3),
      contactor_positive: closed(2.2),
      drive_ready: closed(2.6),
    }
    const made = review(drawnStart({ columns }))
    expect(made.starts.map(({ reached }) => reached)).toEqual(['driving', 'waiting'])
    expect(made.verdict.state).toBe('cannot-drive')
  })

  it('the key alone after a drive raises nothing above a note', () => {
    const key = (t: number) => (t < 1 || (t >= 20 && t < 22) || t >= 29 ? 0 : 1)
    const made = review(drawnStart({ columns: { key_on: key, brake_switch: (t) => (t < 4.5 ? 1 : 0) } }))
    expect(made.starts.map(({ reached }) => reached)).toEqual(['driving', 'waiting'])
    expect(made.verdict.state).not.toBe('cannot-drive')
    expect(noDrives(made).filter(({ severity }) => severity !== 'note')).toEqual([])
  })

  it.each([
    ['with', STATES],
    ['without', {}],
  ])(
    'key on, brake pressed, nothing closes, 12 V at 9.1 V: found %s the vehicle file, whatever names prove',
    (_, vehicle) => {
      const columns = { ...BLOCKED, lv_voltage: () => 9.1, bms_state: () => 1 }
      let drive = drawnStart({ keyOffS: 28, columns, without: ['contactor_precharge'] })
      for (const id of ['key_on', 'contactor_positive', 'contactor_negative']) drive = unproved(drive, id)
      const made = review(drive, vehicle)
      expect(noDrives(made)).toMatchObject([{ severity: 'stop', subject: { name: 'supply' } }])
      expect(made.verdict.state).toBe('cannot-drive')
    },
  )

  it('a charge plug that reads 1 throughout, nothing proving what 1 means: not accused, but what to look at first', () => {
    const columns = { ...BLOCKED, charge_plug: () => 1 }
    const made = review(unproved(drawnStart({ keyOffS: 28, columns }), 'charge_plug'))
    const [found] = noDrives(made)
    expect(found!.subject.name).not.toBe('plug')
    expect(made.starts[0]!.steps.find(({ name }) => name === 'plug')!.held).toBeNull()
    expect(found!.next_step).toContain('charge inlet')
    expect(found!.next_step).toContain('it reads 1 throughout; whether 1 means in is not proved')
    expect(found!.rivals[0]).toMatchObject({ subject: { name: 'plug' } })
    expect(made.check_sheet.find(({ known }) => known === null)!.what).toContain('charge inlet')
    // It reads out: nothing to look at.
    const out = review(unproved(drawnStart({ columns: { ...BLOCKED, charge_plug: () => 0 } }), 'charge_plug'))
    expect(noDrives(out)[0]!.next_step).not.toContain('not proved')
  })

  it.each([
    ['charging', 7],
    ['asleep', 0],
    ['idle', 1],
  ])('a parked car whose battery unit is %s is no failed start, whatever the plug says', (_, code) => {
    const columns = { ...BLOCKED, ...ALONE, bms_state: () => code, charge_plug: () => (code === 7 ? 1 : 0) }
    for (const without of [['key_on'], []]) {
      const key = { key_on: () => 0 }
      const made = review(drawnStart({ columns: { ...columns, ...key }, without }), STATES)
      expect(made.findings.filter(({ severity }) => severity !== 'note')).toEqual([])
      expect(made.verdict.state).not.toBe('cannot-drive')
    }
  })

  it('a log that begins in mid drive shows no start that failed', () => {
    const whole = drawnStart({ columns: { brake_switch: (t) => (t > 15 ? 1 : 0) } })
    for (const without of [
      [],
      ['drive_ready'],
      ['drive_ready', 'speed'],
      ['drive_ready', 'contactor_precharge'],
    ])
      for (const fromS of [6, 14.9, 16]) {
        const made = review(cutFrom({ ...whole, channels: withoutIds(whole, without) }, fromS))
        expect([without, fromS, noDrives(made)]).toEqual([without, fromS, []])
      }
  })
})

describe('finding, check sheet and start speak of one first step', () => {
  it.each([
    ['interlock', drawnStart({ columns: { ...BLOCKED, interlock_closed: () => 0 } })],
    ['precharge, a load', drawnStart({ closesS: null, loadOhm: 60 })],
    ['precharge, open', drawnStart({ closesS: null, open: true })],
    ['negative', drawnStart({ columns: BLOCKED })],
  ])('%s', (_, drive) => {
    const made = review(drive)
    const [found] = noDrives(made)
    const first = made.check_sheet.find(({ known }) => known === null)!
    expect(found!.next_step).toContain(first.what)
    expect(made.starts[0]!.first_failed).toBe(found!.subject.name)
    for (const { what, known } of made.check_sheet)
      if (known !== null) expect(found!.next_step).not.toContain(what)
  })
})

function withoutIds(drive: Drive, ids: readonly string[]): Drive['channels'] {
  return new Map([...drive.channels].filter(([id]) => !ids.includes(id)))
}

/** The drive as a log that was begun later. */
function cutFrom(drive: Drive, fromS: number): Drive {
  const channels = new Map(
    [...drive.channels].map(([id, channel]) => {
      const keep = channel.timeS.findIndex((t) => t >= fromS)
      return [
        id,
        {
          ...channel,
          timeS: channel.timeS.slice(keep).map((t) => t - fromS),
          values: channel.values.slice(keep),
        },
      ]
    }),
  )
  return { ...drive, channels, durationS: drive.durationS - fromS }
}
