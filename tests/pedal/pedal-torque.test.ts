import { describe, expect, it } from 'vitest'
import type { Drive } from '../../shared/drive.ts'
import type { Finding } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { brakeOverride } from '../../src/pedal/models/brake-override.ts'
import { pedalTorque } from '../../src/pedal/questions/pedal-torque.ts'
import { torqueReleased } from '../../src/pedal/questions/torque-released.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

const ask = (drive: Drive, vehicle: Vehicle = {}) => pedalTorque(gatherFacts(drive, vehicle))
const askReleased = (drive: Drive, vehicle: Vehicle = {}) => torqueReleased(gatherFacts(drive, vehicle))
const kinds = (findings: readonly Finding[]) => findings.map((each) => `${each.kind} ${each.severity}`)

/** 40 s at 100 Hz: pull away at 2 s, hold 40 % until 10 s, then release; each column can be replaced. */
const drive = (changes: Readonly<Record<string, (s: number) => number>> = {}, hz = 100): Drive => {
  const timeS = Float64Array.from({ length: 40 * hz }, (_, i) => i / hz)
  const base: Record<string, (s: number) => number> = {
    pedal_position: (s) => (s > 2 && s < 10 ? 40 : 0),
    torque: (s) => (s > 2 && s < 10 ? 60 : 0),
    speed: (s) => (s < 2 ? 0 : s < 10 ? 6 * (s - 2) : Math.max(0, 48 - 1.2 * (s - 10))),
    motor_speed: (s) => 80 * (s < 2 ? 0 : s < 10 ? 6 * (s - 2) : Math.max(0, 48 - 1.2 * (s - 10))),
    brake_pressure: (s) => (s > 34 ? 9 : 0),
    brake_switch: (s) => (s > 34 ? 1 : 0),
    selector: () => 1,
  }
  return driveFromColumns(
    timeS,
    Object.fromEntries(Object.entries({ ...base, ...changes }).map(([id, of]) => [id, timeS.map(of)])),
  )
}
const torque = (of: (s: number) => number) => ({ torque: (s: number) => (s > 2 && s < 10 ? 60 : of(s)) })

describe('torque with the pedal released', () => {
  it('a healthy release accuses nobody and says how small a torque would have shown', () => {
    const answer = askReleased(drive())
    expect(answer.findings).toEqual([])
    expect(answer.questions[0]?.state).toBe('nothing-found')
    expect(answer.questions[0]?.smallest_seen).toBeCloseTo(5.4, 6)
  })

  // Formula Student T11.8.12: released pedal, torque at most 0 (A12); the contract's limit is 5 N·m for more than 0.3 s.
  it.each([
    ['4.9 N·m for 5 s', 4.9, 5, false],
    ['5.1 N·m for 5 s', 5.1, 5, true],
    ['20 N·m for 0.29 s', 20, 0.29, false],
    ['20 N·m for 0.33 s', 20, 0.33, true],
  ] as const)('%s', (_, nm, forS, found) => {
    const answer = askReleased(drive(torque((s) => (s >= 20 && s < 20 + forS ? nm : 0))))
    expect(kinds(answer.findings)).toEqual(found ? ['torque-without-pedal attention'] : [])
    if (found) expect(answer.findings[0]?.value).toBeCloseTo(nm, 5)
  })

  // Idle return within 1 s: US FMVSS 124 (49 CFR 571.124) S5.3, from memory (A13).
  it.each([
    ['decays with 0.3 s: gone in time', 0.3, false],
    ['decays with 1 s: still 20 N·m after a second', 1, true],
  ] as const)('after release torque %s', (_, tau, found) => {
    const answer = askReleased(drive(torque((s) => (s >= 10 ? 60 * Math.exp(-(s - 10) / tau) : 0))))
    expect(kinds(answer.findings)).toEqual(found ? ['torque-without-pedal attention'] : [])
  })

  it('creep of the vehicle file is allowed at walking pace only', () => {
    const creeping = torque((s) => (s > 12 ? 12 : 0))
    const slow = { speed: () => 6, motor_speed: () => 480 }
    expect(kinds(askReleased(drive({ ...creeping, ...slow })).findings)).toEqual([
      'torque-without-pedal attention',
    ])
    expect(askReleased(drive({ ...creeping, ...slow }), { pedal: { creep_max_nm: 15 } }).findings).toEqual([])
    const fast = { speed: () => 40, motor_speed: () => 3200 }
    // at 40 km/h that is no creep, and the brake is pressed from 34 s on
    expect(
      kinds(askReleased(drive({ ...creeping, ...fast }), { pedal: { creep_max_nm: 15 } }).findings),
    ).toEqual(['torque-without-pedal stop'])
  })

  it('regeneration is no drive torque, and unsigned torque is not assessed', () => {
    const braking = (s: number) => (s > 11 && s < 30 ? -40 : 0)
    const slowing = {
      speed: (s: number) => (s < 2 ? 0 : s < 10 ? 8 * (s - 2) : Math.max(0, 64 - 8 * (s - 10))),
    }
    expect(askReleased(drive({ ...torque(braking), ...slowing })).findings).toEqual([])
    const unsigned = askReleased(drive({ ...torque((s) => Math.abs(braking(s))), ...slowing }))
    expect(unsigned.questions[0]?.state).toBe('not-assessed')
    expect(unsigned.findings).toEqual([])
  })
})

describe('torque against the selector', () => {
  it('torque in neutral is a stop; the same in forward is none', () => {
    const neutral = drive({ selector: (s) => (s > 5 ? 0 : 1) })
    expect(kinds(ask(neutral).findings)).toContain('torque-against-selector stop')
    expect(ask(drive()).findings).toEqual([])
  })

  it('driving backwards in forward', () => {
    const backwards = drive({
      torque: (s) => (s > 2 && s < 10 ? -30 : 0),
      motor_speed: (s) => (s > 2 && s < 10 ? -400 : 0),
      speed: (s) => (s > 2 && s < 10 ? 5 : 0),
    })
    expect(kinds(ask(backwards).findings)).toContain('torque-against-selector stop')
  })

  it('reverse without a signed motor speed is not accused', () => {
    expect(ask(drive({ selector: () => -1 })).findings).toEqual([])
  })
})

describe('accelerator with the brake', () => {
  const pressed = (percent: number, forS: number, kmh = 30) =>
    ask(
      drive({
        pedal_position: (s) => (s >= 5 && s < 5 + forS ? percent : 0),
        brake_pressure: (s) => (s >= 4 && s < 20 ? 12 : 0),
        brake_switch: (s) => (s >= 4 && s < 20 ? 1 : 0),
        torque: () => 0,
        speed: () => kmh,
        motor_speed: () => 80 * kmh,
      }),
    ).findings

  // FSAE 2026 EV.4.7.1: more than 25 % with the brake (A8); Formula Student EV2.3.1: more than 500 ms (A9).
  it.each([
    ['25.0 % for 2 s', 25, 2, 30, []],
    ['25.1 % for 2 s', 25.1, 2, 30, ['pedal-with-brake attention']],
    ['60 % for 500 ms', 60, 0.505, 30, []],
    ['60 % for 510 ms and a sample', 60, 0.525, 30, ['pedal-with-brake attention']],
    ['60 % for 2 s at 3 km/h, as in a hill start', 60, 2, 3, ['pedal-with-brake note']],
  ] as const)('%s', (_, percent, forS, kmh, want) => {
    expect(kinds(pressed(percent, forS, kmh))).toEqual(want)
  })

  it('the published rule cuts at once over 25 % and latches until under 5 % (A8)', () => {
    const percent = [25, 25.1, 10, 10, 5, 4.9, 30]
    const applied = [1, 1, 1, 0, 0, 0, 0]
    expect([...brakeOverride(applied, percent)]).toEqual([0, 1, 1, 1, 1, 0, 0])
  })
})
