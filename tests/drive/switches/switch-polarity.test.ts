import { describe, expect, it } from 'vitest'
import { channelNamed } from '../../../shared/drive.ts'
import { conditioned, smallDrive } from '../../helpers/stop-and-go.ts'

const small = smallDrive()
const SWITCHES = [
  'key_on',
  'drive_ready',
  'charge_plug',
  'interlock_closed',
  'inertia_closed',
  'contactor_positive',
  'contactor_negative',
  'contactor_precharge',
  'brake_switch',
]
const plainNames = Object.fromEntries(SWITCHES.map((id, at) => [id, `bit ${at}`]))
const standing = (columns: Record<string, Float64Array>): Record<string, Float64Array> => ({
  ...columns,
  speed: columns.speed!.map(() => 0),
  motor_speed: columns.motor_speed!.map(() => 0),
  torque: columns.torque!.map(() => 0),
  brake_pressure: columns.brake_pressure!.map(() => 0),
})

/** A coil's duty: pulled in with one for a few rows, then held with the other. */
const pulledIn = (closed: Float64Array, pull: number, hold: number): Float64Array =>
  closed.map((value, i) => (value === 0 ? 0 : closed[i - 3] === 1 ? hold : pull))

describe('polarity of switches', () => {
  it('is proved by the drive for every switch, whatever its column is called', () => {
    const { drive } = conditioned(small, {}, plainNames)
    for (const id of SWITCHES)
      expect([id, channelNamed(drive.channels, id)!.polarity]).toEqual([id, 'as-named'])
  })

  it('is turned round where the drive proves it inverted, and said', () => {
    const columns = { ...small.columns }
    for (const id of SWITCHES) columns[id] = columns[id]!.map((value) => 1 - value)
    const { drive } = conditioned({ ...small, columns }, {}, plainNames)
    for (const id of SWITCHES) {
      const channel = channelNamed(drive.channels, id)!
      expect([id, channel.polarity]).toEqual([id, 'inverted'])
      expect(channel.values).toEqual(small.columns[id])
      expect(drive.assumptions.join('\n')).toContain(channel.from)
    }
  })

  it.each([
    ['hvil_ok', 'as-named'],
    ['InterlockClosed', 'as-named'],
    ['interlock_open', 'inverted'],
    ['HvilFault', 'inverted'],
    ['hvil', null],
  ])('of a car that never moved comes from the name %s: %s', (name, polarity) => {
    const columns = standing(small.columns)
    columns.link_voltage = columns.link_voltage!.map(() => 0)
    const { drive } = conditioned({ ...small, columns }, {}, { interlock_closed: name })
    expect(drive.channels.get('interlock_closed')!.polarity).toBe(polarity)
  })

  // Economisers: common practice, no source.
  it('reads a coil duty as closed from its pull-in on, in % and 8-bit levels, and says what it holds with', () => {
    const columns = { ...small.columns }
    columns.contactor_positive = pulledIn(columns.contactor_positive!, 100, 32)
    columns.contactor_negative = columns.contactor_negative!.map((value) => 255 * value)
    const { drive } = conditioned({ ...small, columns })
    expect(drive.channels.get('contactor_positive')!.values).toEqual(small.columns.contactor_positive)
    expect(drive.channels.get('contactor_negative')!.values).toEqual(small.columns.contactor_negative)
    const said = drive.reports.find(({ id }) => id === 'contactor_positive')?.conversion
    if (said) expect(said).toContain('holds with 32')
  })

  it('22 % that did not come down from a pull-in closes nothing', () => {
    const columns = { ...small.columns }
    const closed = columns.contactor_positive!
    // At 5 s, long before precharge, the coil is driven with 22 % for two seconds: no pull-in.
    columns.contactor_positive = pulledIn(closed, 100, 22).map((value, i) =>
      small.timeS[i]! >= 5 && small.timeS[i]! < 7 ? 22 : value,
    )
    const { drive } = conditioned({ ...small, columns })
    const channel = drive.channels.get('contactor_positive')!
    expect(channel.values[small.timeS.findIndex((t) => t >= 6)]).toBeNaN()
    expect(channel.values[small.timeS.findIndex((t) => t >= 100)]).toBe(1)
  })

  it('a duty that never pulls in is believed only where the car proves it', () => {
    const low = small.columns.contactor_positive!.map((value) => 22 * value)
    const drove = conditioned({ ...small, columns: { ...small.columns, contactor_positive: low } })
    expect(drove.drive.channels.get('contactor_positive')!.polarity).toBe('as-named')
    const stood = standing({ ...small.columns, contactor_positive: low })
    delete stood.link_voltage
    const still = conditioned({ ...small, columns: stood }, {}, { contactor_positive: 'main contactor on' })
    expect(still.drive.channels.get('contactor_positive')!.polarity).toBeNull()
  })

  it('takes 2 and 3 of a two-bit status for no value', () => {
    const columns = { ...small.columns }
    columns.key_on = columns.key_on!.map((value, i) => (i < 20 ? 3 : value))
    const { drive } = conditioned({ ...small, columns })
    expect(drive.channels.get('key_on')!.values[5]).toBeNaN()
    expect(drive.channels.get('key_on')!.values[400]).toBe(1)
  })
})

describe('selector', () => {
  it('becomes −1, 0, 1 from codes by the way the car moved', () => {
    const columns = { ...small.columns }
    columns.selector = columns.selector!.map((value) => (value === 1 ? 3 : 0))
    const { drive } = conditioned({ ...small, columns })
    expect(drive.channels.get('selector')!.values).toEqual(small.columns.selector)
  })

  it('finds reverse by the motor’s direction', () => {
    const reversing = small.timeS.map((t) => (t > 60 && t < 100 ? 1 : 0))
    const columns = { ...small.columns }
    columns.selector = columns.selector!.map((value, i) => (reversing[i] ? 1 : value === 1 ? 4 : 2))
    columns.motor_speed = columns.motor_speed!.map((rpm, i) => (reversing[i] ? -rpm : rpm))
    const { drive } = conditioned({ ...small, columns })
    const values = drive.channels.get('selector')!.values
    expect(values[small.timeS.findIndex((t) => t >= 80)]).toBe(-1)
    expect(values[small.timeS.findIndex((t) => t >= 50)]).toBe(1)
    expect(values[0]).toBe(0)
  })

  it('stays unknown beyond neutral where the car never moved', () => {
    const columns = standing(small.columns)
    columns.selector = columns.selector!.map((value) => 3 * value)
    const { drive } = conditioned({ ...small, columns })
    const values = drive.channels.get('selector')!.values
    expect(values[0]).toBe(0)
    expect(values[2000]).toBeNaN()
  })
})
