import { describe, expect, it } from 'vitest'
import type { Drive } from '../../shared/drive.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { torqueReleased } from '../../src/pedal/questions/torque-released.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { CAR, cruise, type Moment, releasedDrive } from '../helpers/released-drive.ts'

const ask = (drive: Drive, vehicle: Vehicle = {}) => torqueReleased(gatherFacts(drive, vehicle))
const severities = (drive: Drive, vehicle: Vehicle = {}) =>
  ask(drive, vehicle).findings.map((each) => each.severity)

/** The foot drives with 40 % and 60 N·m until `untilS`, then leaves the rest to `then`. */
const afterFoot =
  (untilS: number, then: (at: Moment) => number, nm = 60) =>
  (at: Moment): number =>
    at.s < 2 ? 0 : at.s < untilS ? nm : then(at)
/** A press at the end shows that the pedal's reading lives. */
const foot =
  (untilS: number, againS = Number.POSITIVE_INFINITY) =>
  (s: number): number =>
    (s > 2 && s < untilS) || s > againS ? 40 : 0
const hills = (s: number): number => 2.2 * Math.sin(s / 9) + 1.1 * Math.sin(s / 3.7)
/** Creep of this car: 14 N·m at standstill, gone at 9 km/h. */
const creep = ({ kmh, s }: Moment): number => (s > 24 && s < 33 ? 0 : Math.max(0, 14 * (1 - kmh / 9)))

// The rule and its figures are the contract's; a car by Newton's law (tests/helpers/released-drive.ts) is the reference.
describe('torque with the pedal released that the log itself explains is a note', () => {
  it.each([
    ['cruise control over hills', 8, cruise(() => 60), hills],
    ['cruise control that recuperates downhill', 8, cruise(() => 60), (s: number) => hills(s) - 2.5],
    ['a soft controller that swings', 14, cruise(() => 62, 2, 0.6), (s: number) => 1.2 * Math.sin(s / 4)],
    [
      'its resume to a higher speed',
      9,
      cruise((s) => (s < 45 ? 45 : Math.min(80, 45 + 1.6 * (s - 45)))),
      hills,
    ],
  ] as const)('%s', (_, untilS, controller, slope) => {
    const drive = releasedDrive({ pedal: foot(untilS), torque: afterFoot(untilS, controller), slope })
    expect(severities(drive)).toEqual(['note'])
    expect(ask(drive).findings[0]?.headline).toContain('Cruise control')
  })

  it('the motor holds the car on a slope of 9 %', () => {
    const holding = (CAR.massKg * 9.81 * 0.09 * CAR.radiusM) / CAR.ratio
    const drive = releasedDrive({
      pedal: (s) => (s > 32 && s < 45 ? 50 : 0),
      torque: ({ s, kmh }) => (s < 2 ? 0 : s < 32 ? holding : s < 45 ? 90 : kmh > 0.5 ? -20 : holding),
      slope: () => 9,
      brake: (s) => (s < 3 ? 20 : 0),
    })
    expect(severities(drive)).toEqual(['note'])
    expect(ask(drive).findings[0]?.headline).toContain('Hill hold')
  })

  it('6 N·m of creep before moving off', () => {
    const drive = releasedDrive({
      pedal: (s) => (s > 9 && s < 20 ? 40 : 0),
      torque: ({ s, kmh }) => (s < 3 ? 0 : s < 9 ? 3.5 + 2.5 * (kmh < 1 ? 1 : 0) : s < 20 ? 60 : 0),
      slope: () => 1.2,
    })
    expect(severities(drive).filter((each) => each !== 'note')).toEqual([])
  })

  it('creep that falls with speed', () => {
    const drive = releasedDrive({
      pedal: (s) => (s > 15 && s < 24 ? 40 : 0),
      torque: (at) => (at.s > 15 && at.s < 24 ? 65 : creep(at)),
      brake: (s) => (s > 25 && s < 32 ? 15 : 0),
      seconds: 50,
    })
    expect(severities(drive)).toEqual(['note'])
  })

  it('cruise by its channel, on an even road', () => {
    const steady = (CAR.air * (60 / 3.6) ** 2 + CAR.rollN) * (CAR.radiusM / CAR.ratio)
    const script = {
      pedal: foot(9),
      torque: afterFoot(9, ({ kmh }) => steady - 0.5 * (kmh - 60)),
      startKmh: 40,
      seconds: 60,
    }
    const on = releasedDrive({ ...script, more: { cruise_active: ({ s }) => (s > 8 ? 1 : 0) } })
    expect(severities(on)).toEqual(['note'])
  })
})

describe('a runaway stays a stop', () => {
  const stuck = (nm: number) => afterFoot(8, () => nm)
  const cases: readonly (readonly [string, Drive, Vehicle])[] = [
    [
      'torque stuck at the release, settling at a constant speed',
      releasedDrive({ pedal: foot(8), torque: stuck(60), seconds: 200 }),
      {},
    ],
    [
      'the same in a car with cruise control',
      releasedDrive({ pedal: foot(8), torque: stuck(60) }),
      { pedal: { cruise: true, hold: true } },
    ],
    [
      'torque that the release brings up, a ramp long, in a car with cruise control',
      releasedDrive({
        pedal: foot(8),
        torque: afterFoot(8, ({ s }) => Math.min(60, -8 + 170 * (s - 8)), 12),
        startKmh: 40,
      }),
      { pedal: { cruise: true, hold: true } },
    ],
    ['the same over hills', releasedDrive({ pedal: foot(8), torque: stuck(60), slope: hills }), {}],
    [
      'less torque, the speed rising, no cruise control shown',
      releasedDrive({ pedal: foot(8), torque: stuck(25), startKmh: 10 }),
      {},
    ],
    [
      'torque with the brake pressed, whatever cruise control says',
      releasedDrive({
        pedal: foot(8),
        torque: afterFoot(8, () => 20),
        brake: (s) => (s > 20 && s < 24 ? 5 : 0),
        more: { cruise_active: () => 1 },
      }),
      { pedal: { cruise: true } },
    ],
    [
      'beyond what the vehicle file allows as creep',
      releasedDrive({
        pedal: foot(2, 11),
        torque: ({ s, kmh }) => (s > 5 ? Math.max(0, 24 - kmh) : 0),
        seconds: 12,
      }),
      { pedal: { creep_max_nm: 15, hold: true, cruise: true } },
    ],
    [
      'beyond 0.6 m/s² below 25 km/h in a car whose mass and gear are known',
      releasedDrive({
        pedal: foot(2, 8.5),
        torque: ({ s, kmh }) => (s > 5 ? Math.max(0, 30 - kmh) : 0),
        seconds: 9,
      }),
      { car: { mass_kg: CAR.massKg, wheel_radius_m: CAR.radiusM, gear_ratio: CAR.ratio } },
    ],
    [
      'beyond a quarter of the most drive torque seen',
      releasedDrive({
        pedal: (s) => (s > 20 && s < 25 ? 40 : 0),
        torque: ({ s, kmh }) => (s > 5 && s < 8 ? Math.max(0, 28 - kmh) : s > 20 && s < 25 ? 80 : 0),
        brake: (s) => (s > 8 && s < 20 ? 20 : 0),
        seconds: 40,
      }),
      {},
    ],
    [
      'the vehicle file says that the car has neither',
      releasedDrive({ pedal: foot(8), torque: stuck(12) }),
      { pedal: { cruise: false, hold: false } },
    ],
    [
      'cruise and hold are logged as off',
      releasedDrive({
        pedal: foot(8),
        torque: stuck(12),
        more: { cruise_active: () => 0, hold_active: () => 0 },
      }),
      {},
    ],
    [
      'no road speed logged: the motor’s speed rises',
      releasedDrive({ pedal: foot(8), torque: stuck(60), without: ['speed'] }),
      {},
    ],
  ]
  it.each(cases)('%s', (_, drive, vehicle) => {
    expect(severities(drive, vehicle)[0]).toBe('stop')
  })
})

describe('what the log neither proves nor rules out is attention', () => {
  it('constant torque at constant speed: a stuck torque settles too', () => {
    const even = (CAR.air * (57 / 3.6) ** 2 + CAR.rollN) * (CAR.radiusM / CAR.ratio)
    const drive = releasedDrive({ pedal: foot(8), torque: afterFoot(8, () => even), startKmh: 27 })
    expect(severities(drive)).toEqual(['attention'])
  })

  it('a torque that wanders by itself is no cruise control', () => {
    let state = 0
    let seed = 11
    const wander = (): number => {
      seed = (seed * 16807) % 2147483647
      state += -state * 0.005 + (seed / 2147483647 - 0.5) * 2
      return 14 + state
    }
    const drive = releasedDrive({ pedal: foot(8), torque: afterFoot(8, wander), startKmh: 12 })
    expect(severities(drive)).not.toEqual(['note'])
  })
})

describe('released', () => {
  it('9 N·m at 3 to 5 % of travel is a foot on the pedal', () => {
    const drive = releasedDrive({
      pedal: (s) => (s < 10 ? 0 : s < 16 ? 40 : 4 + Math.sin(s)),
      torque: ({ s }) => (s < 10 ? 0 : s < 16 ? 60 : 9),
    })
    expect(severities(drive)).toEqual([])
  })

  it('a row every 2 s is not assessed where nothing stands out', () => {
    const drive = releasedDrive({
      pedal: (s) => (s % 13 < 6 && s > 3 ? 40 : 0),
      torque: ({ s }) => (s % 13 < 6.5 && s > 3 ? 40 : -5),
      hz: 0.5,
      seconds: 400,
    })
    expect(ask(drive).findings).toEqual([])
    expect(ask(drive).questions[0]?.state).toBe('not-assessed')
  })

  it('an accelerator that reads the same over the whole log may be frozen', () => {
    const drive = releasedDrive({ pedal: () => 0, torque: ({ s }) => (s > 4 ? 30 : 0) })
    expect(ask(drive).findings).toEqual([])
    expect(ask(drive).questions[0]?.state).toBe('not-assessed')
    expect(ask(drive).questions[0]?.why).toContain('frozen')
  })
})
