import { describe, expect, it } from 'vitest'
import { packCurrent } from '../../src/car/pack-current.ts'
import { energy } from '../../src/current/questions/energy.ts'
import { conditioned, type SmallDrive, smallDrive } from '../helpers/stop-and-go.ts'

const small = smallDrive()
const whole = small.trueAmperes

/** The same drive with some columns changed or left out. */
function changed(
  changes: Readonly<Record<string, ((value: number, at: number) => number) | null>>,
  of: SmallDrive = small,
): SmallDrive {
  const columns = { ...of.columns }
  for (const [id, change] of Object.entries(changes)) {
    if (change === null) delete columns[id]
    else columns[id] = columns[id]!.map((value, i) => change(value, of.timeS[i]!))
  }
  return { ...of, columns }
}

const noVolts = {
  pack_voltage: null,
  link_voltage: null,
  ...Object.fromEntries(
    Object.keys(small.columns)
      .filter((id) => id.startsWith('cell_voltage'))
      .map((id) => [id, null]),
  ),
}

/** Share of moments with at least 10 A whose sign is right. */
function rightSign(drive: SmallDrive): number {
  const current = conditioned(drive).drive.channels.get('pack_current')!
  let right = 0
  let all = 0
  for (let i = 0; i < whole.length; i++) {
    if (Math.abs(whole[i]!) < 10) continue
    all++
    if (Math.sign(current.values[i]!) === Math.sign(whole[i]!)) right++
  }
  return right / all
}

describe('sign of the battery current', () => {
  const negate = { pack_current: (value: number) => -value }
  const size = { pack_current: Math.abs }

  it('leaves a right current alone and says nothing', () => {
    const { drive } = conditioned(small)
    expect(drive.channels.get('pack_current')!.sign).toBe('proved')
    expect(drive.channels.get('pack_current')!.values).toEqual(small.columns.pack_current)
    expect(drive.assumptions.filter((each) => each.includes('current'))).toEqual([])
  })

  it.each([
    ['with everything logged', negate],
    ['by sag alone', { ...negate, torque: null, motor_speed: null }],
    ['by power alone', { ...negate, ...noVolts }],
  ])('turns a reversed current round %s', (_, changes) => {
    const drive = changed(changes)
    expect(rightSign(drive)).toBe(1)
    expect(conditioned(drive).drive.assumptions.join()).toContain('turned round')
  })

  it.each([
    ['power', size],
    ['voltage', { ...size, torque: null, motor_speed: null }],
  ])('gives a magnitude its sign from %s', (_, changes) => {
    const drive = changed(changes)
    expect(conditioned(drive).drive.channels.get('pack_current')!.sign).toBe('from-magnitude')
    expect(rightSign(drive)).toBeGreaterThan(0.95)
  })

  it('says so where nothing can tell', () => {
    const { drive } = conditioned(changed({ ...size, ...noVolts, torque: null, motor_speed: null }))
    expect(drive.channels.get('pack_current')!.sign).toBe('unproved')
    expect(drive.assumptions.join()).toContain('Nothing in the log proves the sign')
  })

  it('keeps a car without regeneration as it is', () => {
    const gentle = smallDrive({ noRegen: true })
    const { drive } = conditioned(gentle)
    expect(drive.channels.get('pack_current')!.sign).toBe('proved')
  })

  it('turns a charging stretch that is logged as discharge, and no other', () => {
    const { timeS, columns } = smallDrive({ seconds: 400 })
    const charging = (t: number): boolean => t >= 300 && t < 380
    const at = (id: string, rule: (value: number, t: number) => number): Float64Array =>
      columns[id]!.map((value, i) => rule(value, timeS[i]!))
    const volts = (base: number, t: number): number => (charging(t) ? base + 1.5 + (t - 300) / 40 : base)
    const drive = conditioned({
      timeS,
      columns: {
        ...columns,
        // the first drive ends at 370 s in this length: stop it earlier
        key_on: at('key_on', (value, t) => (t < 290 ? value : 0)),
        drive_ready: at('drive_ready', (value, t) => (t < 290 ? value : 0)),
        speed: at('speed', (value, t) => (t < 280 ? value : 0)),
        motor_speed: at('motor_speed', (value, t) => (t < 280 ? value : 0)),
        torque: at('torque', (value, t) => (t < 280 ? value : 0)),
        charge_plug: at('charge_plug', (_, t) => (charging(t) ? 1 : 0)),
        pack_current: at('pack_current', (value, t) => (charging(t) ? 16 : t > 280 ? 0 : value)),
        pack_voltage: at('pack_voltage', (value, t) => (t > 280 ? volts(336, t) : value)),
      },
    }).drive
    const current = drive.channels.get('pack_current')!
    const of = (t: number): number => current.values[timeS.findIndex((each) => each >= t)]!
    expect(of(340)).toBe(-16)
    expect(of(60)).toBe(columns.pack_current![timeS.findIndex((each) => each >= 60)])
    expect(drive.assumptions.join()).toContain('while charging it was logged as if discharging')
  })
})

describe('a log of charging alone', () => {
  const timeS = Float64Array.from({ length: 6000 }, (_, i) => i / 10)
  const plugged = (sign: number) =>
    conditioned({
      timeS,
      columns: {
        charge_plug: timeS.map(() => 1),
        pack_current: timeS.map((t) => (t > 60 ? sign * 12 : 0)),
        pack_voltage: timeS.map((t) => 330 + (t > 60 ? 1.2 + (t - 60) / 200 : 0)),
      },
    })

  it.each([-1, 1])('has its sign proved or turned by the climbing voltage (%i)', (sign) => {
    const { drive } = plugged(sign)
    const current = drive.channels.get('pack_current')!
    expect(current.values[3000]).toBe(-12)
    expect(current.sign).toBe('proved')
    expect(drive.segments.map((each) => each.type)).toEqual(['parked', 'charging'])
  })

  it('counts what went in at the plug apart from energy put back', () => {
    // 12 A · 332.55 V (mean) over 539.9 s are 598.5 Wh
    const answer = energy(plugged(-1).facts)
    expect(answer.assumptions!.map(({ value }) => value).join(' ')).toMatch(/charging at the plug, 59[89] Wh/)
    expect(answer.sections!.energy!.in_wh).toBeLessThan(0.1)
  })
})

describe('a current that is not the battery’s', () => {
  it('is told from the motor’s phase current by what it follows', () => {
    const phase = small.columns.torque!.map((nm) => 3.1 * Math.abs(nm) + 1)
    const { drive } = conditioned({ ...small, columns: { ...small.columns, pack_current: phase } })
    expect(drive.channels.has('pack_current')).toBe(false)
    expect(drive.channels.has('phase_current')).toBe(true)
    expect(drive.assumptions.join()).toContain('follows torque')
  })

  it('is worked out from the inverter’s where the car supports it, and said', () => {
    const { pack_current, ...rest } = small.columns
    const { drive } = conditioned({
      ...small,
      columns: { ...rest, inverter_dc_current: pack_current!.map((value) => value - 0.9) },
    })
    expect(drive.channels.get('pack_current')?.from).toBe('worked out from inverter_dc_current')
    expect(drive.reports.find((each) => each.id === 'pack_current')?.why).toContain('the pack sags with it')
    expect(drive.assumptions.join()).toContain('No battery current is logged')
  })

  it('is not worked out from a current that has nothing to do with the pack', () => {
    const { pack_current, ...rest } = small.columns
    const { drive } = conditioned({
      ...small,
      columns: { ...rest, inverter_dc_current: pack_current!.map((_, i) => 20 * Math.sin(i)) },
    })
    expect(drive.channels.has('pack_current')).toBe(false)
  })
})

describe('zero and range of the battery current', () => {
  it('learns a zero that moves, stretch by stretch, and covers it', () => {
    const drifting = changed({ pack_current: (value, t) => value + 3 + t / 120 })
    const current = packCurrent(conditioned(drifting).facts)!
    expect(current.zeroAt(5)).toBeCloseTo(3.04, 1)
    expect(current.zeroAt(235)).toBeCloseTo(4.9, 0)
    expect(current.zeroDrifts.length).toBeGreaterThan(1)
    const worst = Math.max(...current.amperes.map((value, i) => Math.abs(value - whole[i]!)))
    expect(worst).toBeLessThan(current.zeroPlusMinusA! + 5 * 0.2 + 0.1)
  })

  it('leaves flat tops out and says where the range ends', () => {
    const clipped = changed({ pack_current: (value) => Math.min(60, value) })
    const current = packCurrent(conditioned(clipped).facts)!
    expect(current.rangeA[1]).toBeCloseTo(60, 0)
    expect(current.rangeA[0]).toBeNull()
    const above = whole.filter((value) => value > 61).length
    const lost = current.amperes.filter((value) => Number.isNaN(value)).length
    expect(lost).toBeGreaterThan(0.9 * above)
    expect(lost).toBeLessThan(1.2 * above + 20)
  })

  it('finds no flat tops on a current that was never clipped', () => {
    expect(packCurrent(conditioned(small).facts)!.clippedSpans).toEqual([])
  })
})

describe('segments', () => {
  it('cuts the drive into parked, starting, driving, parked', () => {
    const { drive } = conditioned(small)
    expect(drive.segments.map((each) => each.type)).toEqual(['parked', 'starting', 'driving', 'parked'])
    expect(drive.segments.every((each) => each.cut === 'none')).toBe(true)
    expect(drive.segments[1]!.span_s[0]).toBeCloseTo(10, 1)
    expect(drive.segments[2]!.key_cycle).toBe(1)
  })

  it('says that a log opens and ends inside a drive', () => {
    const from = small.timeS.findIndex((each) => each >= 60)
    const to = small.timeS.findIndex((each) => each >= 160)
    const columns = Object.fromEntries(
      Object.entries(small.columns).map(([id, values]) => [id, values.slice(from, to)]),
    )
    const timeS = small.timeS.slice(from, to).map((each) => each - 60)
    const { drive } = conditioned({ timeS, columns })
    expect(drive.segments.map(({ type, cut }) => `${type} ${cut}`)).toEqual(['driving start'])
  })

  it('finds the drive without key and ready', () => {
    const { drive } = conditioned(changed({ key_on: null, drive_ready: null }))
    expect(drive.segments.map((each) => each.type)).toEqual(['parked', 'starting', 'driving', 'parked'])
  })

  it('finds the drive from motor speed alone', () => {
    const only = { timeS: small.timeS, columns: { motor_speed: small.columns.motor_speed! } }
    const types = conditioned(only).drive.segments.map((each) => each.type)
    expect(types[0]).toBe('parked')
    expect(types).toContain('driving')
  })
})
