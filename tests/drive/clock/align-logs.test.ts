import { describe, expect, test } from 'vitest'
import { alignLogs, type NamedLog } from '../../../src/drive/clock/align-logs.ts'
import { fitClock } from '../../../src/drive/clock/clock-fit.ts'
import { clockPairs } from '../../../src/drive/clock/clock-pairs.ts'
import { roughLag } from '../../../src/drive/clock/clock-search.ts'
import {
  type Box,
  type BoxColumn,
  logOf,
  type SharedDrive,
  seeded,
  sharedDrive,
} from '../../helpers/shared-drive.ts'

const current = (drive: SharedDrive): BoxColumn => ({
  id: 'pack_current',
  unit: 'A',
  of: drive.current,
  noise: 0.3,
  step: 0.1,
})
const speed = (drive: SharedDrive): BoxColumn => ({
  id: 'speed',
  unit: 'km/h',
  of: drive.speed,
  noise: 0.1,
  step: 0.1,
})

const battery = (drive: SharedDrive, rest: Partial<Box> = {}): Box => ({
  name: 'battery.csv',
  fromS: 0,
  toS: drive.lengthS,
  periodS: 0.1,
  driftPpm: 0,
  offsetS: 0,
  startedAt: '2026-03-14T09:12:33',
  columns: [current(drive)],
  ...rest,
})
const car = (drive: SharedDrive, rest: Partial<Box> = {}): Box => ({
  name: 'car.csv',
  fromS: 20,
  toS: drive.lengthS - 10,
  periodS: 0.01,
  driftPpm: 60,
  offsetS: 37.42,
  columns: [current(drive), speed(drive)],
  ...rest,
})

/** How far a log lies from its true place at a moment of true time, s; `zero` is where the drive's time begins. */
function error(clock: { offset_s: number; drift_ppm: number }, box: Box, trueS: number, zero = 0): number {
  const own = trueS * (1 + box.driftPpm * 1e-6) + box.offsetS
  return own * (1 + clock.drift_ppm * 1e-6) + clock.offset_s - (trueS - zero)
}

const drive = sharedDrive(3, 700)

describe('two logs of one drive', () => {
  const [a, b] = [battery(drive), car(drive)]

  test('offset within 0.02 s and drift within 10 ppm, from the current that both hold', () => {
    const [first, second] = alignLogs([logOf(a, 1), logOf(b, 2)])
    expect(first).toMatchObject({ offset_s: 0, drift_ppm: 0, plus_minus_s: 0 })
    expect(Math.abs(second!.offset_s - -37.42 / (1 + 60e-6))).toBeLessThan(0.02)
    expect(Math.abs(second!.drift_ppm - -60)).toBeLessThan(10)
    expect(second!.found_from).toContain('pack_current, shared with battery.csv')
    expect(Math.abs(error(second!, b, 350))).toBeLessThan(second!.plus_minus_s!)
  })

  test('the same in the other order: the log with dates keeps the rate, 0 is the earliest sample', () => {
    const [first, second] = alignLogs([logOf(b, 2), logOf(a, 1)])
    expect(second).toMatchObject({ offset_s: 0, drift_ppm: 0 })
    expect(Math.abs(first!.drift_ppm - -60)).toBeLessThan(10)
  })

  test('no sample comes before 0', () => {
    const early = car(drive, { fromS: 0, toS: 600 })
    const late = battery(drive, { fromS: 60 })
    const [first, second] = alignLogs([logOf(late, 1), logOf(early, 2)])
    expect(first!.offset_s).toBeCloseTo(0, 1)
    expect(Math.abs(error(second!, early, 0))).toBeLessThan(0.02)
  })

  test.each([
    ['unsigned in one log', (s: number) => Math.abs(drive.current(s))],
    ['turned round in one log', (s: number) => -drive.current(s)],
  ])('a current %s', (_, of) => {
    const box = battery(drive, { columns: [{ ...current(drive), of }] })
    const [, second] = alignLogs([logOf(box, 1), logOf(b, 2)])
    expect(Math.abs(error(second!, b, 350))).toBeLessThan(0.02)
  })

  test('a slow log that samples moments: 1 Hz against 100 Hz', () => {
    const [, second] = alignLogs([logOf(battery(drive, { periodS: 1 }), 1), logOf(b, 2)])
    expect(Math.abs(error(second!, b, 350))).toBeLessThan(0.02)
    expect(Math.abs(second!.drift_ppm - -60)).toBeLessThan(30)
  })

  test('torque times speed against current where no quantity is the same', () => {
    const box = car(drive, {
      columns: [
        { id: 'torque', unit: 'Nm', of: drive.torque, noise: 0.5, step: 0.5 },
        { id: 'motor_speed', unit: 'rpm', of: (s) => drive.speed(s) * 75, noise: 2, step: 1 },
      ],
    })
    const [, second] = alignLogs([logOf(a, 1), logOf(box, 2)])
    expect(second!.found_from).toContain('pack_current against shaft_power')
    expect(Math.abs(error(second!, box, 350))).toBeLessThan(second!.plus_minus_s!)
    expect(second!.plus_minus_s!).toBeLessThan(0.2)
  })

  test('on and off edges alone', () => {
    const brake: BoxColumn = { id: 'brake_switch', unit: '', of: drive.brake, noise: 0, step: 1 }
    const box = car(drive, { columns: [brake] })
    const [, second] = alignLogs([logOf(battery(drive, { columns: [brake] }), 1), logOf(box, 2)])
    expect(Math.abs(error(second!, box, 350))).toBeLessThan(second!.plus_minus_s!)
    expect(second!.plus_minus_s!).toBeLessThan(0.6)
  })

  test('a held row says in its uncertainty that it is late by up to one poll', () => {
    const box = battery(drive, { columns: [{ ...current(drive), pollS: 0.5 }] })
    const [, second] = alignLogs([logOf(box, 1), logOf(b, 2)])
    expect(second!.plus_minus_s!).toBeGreaterThan(0.25)
    expect(Math.abs(error(second!, b, 350))).toBeLessThan(second!.plus_minus_s!)
  })

  test('dates that are wrong by minutes do not count against the data, which is said', () => {
    const dated = car(drive, { startedAt: '2026-03-14T09:20:00' })
    const [, second] = alignLogs([logOf(a, 1), logOf(dated, 2)])
    expect(Math.abs(error(second!, b, 350))).toBeLessThan(0.02)
    expect(second!.found_from).toMatch(/the data decided/)
  })

  test('half an hour apart and half overlapping', () => {
    const long = sharedDrive(8, 3000)
    const [one, two] = [
      battery(long, { toS: 1900 }),
      car(long, { fromS: 1300, offsetS: -1250, periodS: 0.1 }),
    ]
    const [, second] = alignLogs([logOf(one, 1), logOf(two, 2)])
    expect(Math.abs(error(second!, two, 1600))).toBeLessThan(0.02)
  })

  test('three logs, the third sharing only with the second', () => {
    const third = car(drive, {
      name: 'gps.csv',
      periodS: 0.2,
      driftPpm: -90,
      offsetS: 900,
      columns: [speed(drive)],
    })
    const clocks = alignLogs([logOf(a, 1), logOf(third, 3), logOf(b, 2)])
    expect(Math.abs(error(clocks[2]!, b, 350))).toBeLessThan(0.02)
    expect(Math.abs(error(clocks[1]!, third, 350))).toBeLessThan(0.05)
    expect(clocks[1]!.found_from).toContain('speed, shared with car.csv')
    expect(clocks[1]!.plus_minus_s!).toBeGreaterThan(clocks[2]!.plus_minus_s!)
  })
})

describe('where the data do not tell', () => {
  const other = sharedDrive(77, 700)

  test('wall clocks where both have dates; how exact is not known', () => {
    const [one, two] = [
      logOf(battery(drive), 1),
      logOf(car(other, { startedAt: '2026-03-14T09:13:33', offsetS: 0, columns: [speed(other)] }), 2),
    ]
    const [, second] = alignLogs([one, two])
    expect(second).toMatchObject({ plus_minus_s: null, drift_ppm: 0 })
    expect(second!.offset_s).toBeCloseTo(60, 6)
    expect(second!.found_from).toContain('date and time alone')
  })

  test('no date either: not aligned, and --offset is asked for', () => {
    const [, second] = alignLogs([
      logOf(battery(drive), 1),
      logOf(car(other, { columns: [speed(other)] }), 2),
    ])
    expect(second!.plus_minus_s).toBeNull()
    expect(second!.found_from).toMatch(/^not aligned.*--offset/)
  })

  test('two drives are not put together by chance: 12 pairs of unlike drives', () => {
    for (let seed = 0; seed < 12; seed++) {
      const [one, two] = [sharedDrive(seed * 2 + 200, 500), sharedDrive(seed * 2 + 201, 500)]
      const [, second] = alignLogs([
        logOf(battery(one, { startedAt: undefined as never }), seed),
        logOf(car(two), seed + 50),
      ])
      expect(second!.found_from).toMatch(/^not aligned/)
    }
  })

  test('a recorder that began a new file and kept its clock', () => {
    const [one, two] = [
      logOf(car(drive, { toS: 300, driftPpm: 0 }), 1),
      logOf(car(drive, { fromS: 302, driftPpm: 0, name: 'car 2.csv' }), 2),
    ]
    const [first, second] = alignLogs([one, two])
    expect(second!.offset_s).toBe(first!.offset_s)
    expect(second!.found_from).toMatch(/goes on where that of car.csv ends/)
  })

  test('a given offset stands', () => {
    const [first, second] = alignLogs([logOf(battery(drive), 1), logOf(car(drive), 2)], [-30])
    expect(second!.offset_s - first!.offset_s).toBeCloseTo(-30, 9)
    expect(second!.found_from).toContain('--offset')
  })

  test('one log is on its own clock, from its first sample', () => {
    const [only] = alignLogs([logOf(car(drive, { driftPpm: 0 }), 1)])
    expect(only).toMatchObject({ drift_ppm: 0, plus_minus_s: 0, found_from: 'the only log' })
    expect(only!.offset_s).toBeCloseTo(-57.42, 9)
  })
})

describe('steps that only another log shows', () => {
  /** Takes a pause out of a log and lets its clock jump there. */
  function withJump(log: NamedLog, fromS: number, toS: number, jumpS: number): NamedLog {
    const series = log.log.series.map((each) => {
      const keep = [...each.timeS.keys()].filter((i) => each.timeS[i]! < fromS || each.timeS[i]! >= toS)
      return {
        ...each,
        timeS: Float64Array.from(keep, (i) => each.timeS[i]! + (each.timeS[i]! >= toS ? jumpS : 0)),
        values: Float64Array.from(keep, (i) => each.values[i]!),
      }
    })
    return {
      log: { ...log.log, series },
      named: log.named.map((each, at) => ({ ...each, series: series[at]! })),
    }
  }

  test('a clock that was set forward by 137 s in the middle of the drive', () => {
    const box = car(drive)
    const log = withJump(logOf(box, 2), 390, 391.5, 137)
    const [, second] = alignLogs([logOf(battery(drive), 1), log])
    expect(second!.steps).toHaveLength(1)
    expect(second!.steps[0]!.step_s).toBeCloseTo(137, 1)
    expect(second!.steps[0]!.at_s).toBeCloseTo(391.5 - 37.42, 0)
    const { timeS } = log.named[0]!.series
    const at = timeS.length - 1
    const trueLast = (drive.lengthS - 10) * (1 + 60e-6) + 37.42
    expect(timeS[at]!).toBeCloseTo(trueLast, 0)
    expect(Math.abs(error(second!, box, 600))).toBeLessThan(0.03)
  })

  test('the same in the log that the others are put on', () => {
    const log = withJump(logOf(battery(drive), 1), 390, 392, 50)
    const [first, second] = alignLogs([log, logOf(car(drive), 2)])
    expect(first!.steps[0]!.step_s).toBeCloseTo(50, 1)
    expect(Math.abs(error(second!, car(drive), 600))).toBeLessThan(0.03)
  })

  test('a true pause is no step', () => {
    const log = withJump(logOf(car(drive), 2), 390, 420, 0)
    const [, second] = alignLogs([logOf(battery(drive), 1), log])
    expect(second!.steps).toEqual([])
  })
})

describe('stated uncertainty', () => {
  // A 95 % interval holds the truth 95 times in 100: of 40 tries 34 or more (binomial: fewer than once in 200).
  test('the drift’s interval holds the truth about 95 % of the time, the offset’s at least as often', () => {
    let drifts = 0
    let offsets = 0
    const tries = 40
    const random = seeded(5)
    for (let k = 0; k < tries; k++) {
      const each = sharedDrive(1000 + k, 300)
      const two = car(each, {
        driftPpm: 400 * (random() - 0.5),
        offsetS: 50 * (random() - 0.5),
        periodS: 0.02,
        columns: [current(each)],
      })
      const [x, y] = [logOf(battery(each), k), logOf(two, k + 500)]
      const pairs = clockPairs({ named: x.named, inRows: false }, { named: y.named, inRows: false })
      const fit = fitClock(roughLag(pairs, null)!)!
      const rate = 1 / (1 + two.driftPpm * 1e-6) - 1
      if (Math.abs(fit.rate - rate) <= fit.ratePlusMinus!) drifts++
      const middle = 150 * (1 + two.driftPpm * 1e-6) + two.offsetS
      if (Math.abs(middle * (1 + fit.rate) + fit.lagS - 150) <= fit.plusMinusS) offsets++
    }
    expect(drifts).toBeGreaterThanOrEqual(34)
    expect(offsets).toBeGreaterThanOrEqual(34)
  })
})
