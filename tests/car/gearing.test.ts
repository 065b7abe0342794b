import { describe, expect, it } from 'vitest'
import { wheelSlip } from '../../src/brake/models/wheel-slip.ts'
import { brakeTrace } from '../../src/car/brake-trace.ts'
import { distance } from '../../src/car/distance.ts'
import { gearing } from '../../src/car/gearing.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

/** Whole ratios of a three-speed box behind a 4.1 axle; wheel radius 0.3 m. */
const RATIOS = [8.6, 5.5, 4] as const
const RADIUS_M = 0.3
const CAR = { wheel_radius_m: RADIUS_M, gear_ratio: [...RATIOS], speed_from: 'wheel' as const }
const timeS = Float64Array.from({ length: 6000 }, (_, i) => i / 20)

/** Pulls to 65 km/h and brakes to a stop, a minute each; first gear to 25, second to 45, third above. */
const kmhAt = (s: number): number => 32.5 * (1 - Math.cos((2 * Math.PI * s) / 60))
const gearOf = (kmh: number): number => (kmh < 25 ? 0 : kmh < 45 ? 1 : 2)
/** 0.9 s between two gears. */
const changing = (s: number): boolean => gearOf(kmhAt(s)) !== gearOf(kmhAt(s - 0.9))

/** By the textbook: motor speed = road speed / (2π · radius) · ratio. */
const rpmOf = (kmh: number, ratio: number): number => ((kmh / 3.6) * 60 * ratio) / (2 * Math.PI * RADIUS_M)

function drive(gearShown: boolean, slip = 0, box = true, without: readonly string[] = []) {
  const ratio = (s: number): number => {
    if (!box) return RATIOS[0]
    const [now, before] = [RATIOS[gearOf(kmhAt(s))]!, RATIOS[gearOf(kmhAt(s - 0.9))]!]
    return changing(s) ? (now + before) / 2 : now
  }
  const pulls = (s: number): boolean => Math.sin((2 * Math.PI * s) / 60) > 0
  const columns: Record<string, Float64Array> = {
    motor_speed: timeS.map((s) => rpmOf(kmhAt(s), ratio(s)) * (s >= 75 && s < 76 ? 1 + slip : 1)),
    speed: timeS.map((s) => Math.round(10 * kmhAt(s)) / 10),
    torque: timeS.map((s) => (box && changing(s) ? 12 : pulls(s) ? 60 : -30)),
    pedal_position: timeS.map((s) => (pulls(s) ? 40 : 0)),
    brake_pressure: timeS.map((s) => (pulls(s) ? 0 : 12)),
    ...(gearShown ? { gear: timeS.map((s) => (changing(s) ? 0 : gearOf(kmhAt(s)) + 1)) } : {}),
  }
  for (const id of without) delete columns[id]
  return driveFromColumns(timeS, columns)
}

describe('a gearbox', () => {
  it.each([
    ['with a column of gears', true, 'gear channel'],
    ['without one', false, 'motor speed against road speed'],
  ] as const)('%s its ratios are read from both speeds', (_, shown, from) => {
    const found = gatherFacts(drive(shown), {}).once(gearing)
    expect(found?.from).toBe(from)
    expect(found?.ratios).toHaveLength(3)
    for (const [k, ratio] of (found?.ratios ?? []).entries())
      expect(ratio / rpmOf(1, RATIOS[k]!)).toBeCloseTo(1, 2)
  })

  it.each([true, false])('a change of gear is no slipping wheel (column of gears: %s)', (shown) => {
    const slip = wheelSlip(gatherFacts(drive(shown), { car: CAR }))
    expect(slip?.comparedS).toBeGreaterThan(100)
    expect(slip?.slipPercent).toBeLessThan(2)
  })

  it.each([true, false])('a wheel that slips in its gear is found (column of gears: %s)', (shown) => {
    const slip = wheelSlip(gatherFacts(drive(shown, 0.2), { car: CAR }))
    expect(slip?.slipPercent).toBeCloseTo(20, 0)
    expect(slip?.fromS).toBeCloseTo(75, 0)
  })

  it('while it changes, torque says nothing of the brake', () => {
    const facts = gatherFacts(drive(false), {})
    const trace = facts.once(brakeTrace)!
    const free = Array.from(trace.timeS).filter((s, i) => trace.released[i] === 1 && changing(s))
    expect(free).toEqual([])
    expect(trace.released.some((each) => each === 1)).toBe(true)
  })

  it('one ratio is no gearbox, though a wheel slips', () => {
    expect(gatherFacts(drive(false, 0.3, false), {}).once(gearing)).toBeNull()
  })

  it('a column that calls the lever\u2019s positions gears makes none', () => {
    const lever = drive(false, 0, false)
    const template = lever.channels.get('speed')!
    const gear = { ...template, id: 'gear', values: timeS.map((s) => (s < 100 ? 1 : 2)) }
    const channels = new Map([...lever.channels, ['gear', gear]])
    expect(gatherFacts({ ...lever, channels }, {}).once(gearing)).toBeNull()
  })

  it('distance from motor speed takes the ratio of the gear, and is absent where the gear is unknown', () => {
    const km = 300 * (32.5 / 3600) // the mean of 1 − cos is 1
    expect(distance(gatherFacts(drive(true, 0, true, ['speed']), { car: CAR }))?.km).toBeCloseTo(km, 1)
    expect(distance(gatherFacts(drive(false, 0, true, ['speed']), { car: CAR }))).toBeNull()
  })
})
