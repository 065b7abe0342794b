import { describe, expect, it } from 'vitest'
import type { Drive } from '../../shared/drive.ts'
import { regenSchema } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { brakeSplit } from '../../src/brake/models/brake-split.ts'
import { brakeSignal } from '../../src/brake/questions/brake-signal.ts'
import { braking } from '../../src/brake/questions/braking.ts'
import { regenBehaviour } from '../../src/brake/questions/regen-behaviour.ts'
import { regeneration } from '../../src/brake/questions/regeneration.ts'
import { motorTorque } from '../../src/car/regen-torque.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { brakeDrive, PLAIN, without } from '../helpers/brake-drive.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'
import { randomCase } from '../simulator/random-case.ts'
import { simulate } from '../simulator/simulate.ts'

const FILE: Vehicle = {
  brake: { regen_start_bar: 3, regen_full_bar: 25, regen_max_nm: 60, fade_kmh: [5, 12] },
}
const PARTS = [regeneration, regenBehaviour, brakeSignal, braking] as const
const ask = (drive: Drive, vehicle: Vehicle = FILE) => {
  const facts = gatherFacts(drive, vehicle)
  const answers = PARTS.map((part) => part(facts))
  return {
    facts,
    regen: answers[0]!.sections?.regen ?? null,
    loud: answers.flatMap((each) => each.findings).filter((each) => each.severity !== 'note'),
    questions: answers.flatMap((each) => each.questions),
  }
}
const plain = brakeDrive()

describe('the map of a drive', () => {
  const { regen, loud, questions, facts } = ask(plain)

  it('start, full, ceiling and fade of the car that drove, each inside its interval and within 3 %', () => {
    expect(regen).not.toBeNull()
    const near = (
      found: number | null | undefined,
      truth: number,
      plusMinus: number | null | undefined,
    ): void => {
      expect(Math.abs(found! - truth)).toBeLessThan(0.03 * truth + 0.05)
      expect(Math.abs(found! - truth)).toBeLessThanOrEqual(plusMinus!)
    }
    near(regen!.start_bar, 3, regen!.start_bar_plus_minus)
    near(regen!.full_bar, 25, regen!.full_bar_plus_minus)
    near(regen!.max_nm, 60, regen!.max_nm_plus_minus)
    near(regen!.fade_kmh![0], 5, regen!.fade_kmh_plus_minus)
    near(regen!.fade_kmh![1], 12, regen!.fade_kmh_plus_minus)
    expect(regen!.zero_bar).toBeCloseTo(PLAIN.sensorZeroBar, 2)
    expect(regen!.delay_s).toBeCloseTo(0.05, 1)
    expect(regenSchema.safeParse(regen).success).toBe(true)
  })

  it('accuses nobody, and every question says how small a fault would have shown or why not', () => {
    expect(loud).toEqual([])
    for (const each of questions) {
      if (each.state === 'not-assessed') expect(each.why.length).toBeGreaterThan(10)
      else expect(each.state).toBe('nothing-found')
    }
    expect(questions[0]?.smallest_seen).toBeGreaterThan(5)
  })

  it('splits deceleration into torque and friction', () => {
    const split = facts.once(brakeSplit)!
    expect(Math.abs(split.perNm - 0.025)).toBeLessThanOrEqual(Math.max(split.perNmPlusMinus, 5e-4))
    expect(Math.abs(split.perPress! - 0.08)).toBeLessThanOrEqual(split.perPressPlusMinus!)
    expect(split.bite).toBe(1)
  })

  it('the stops\u2019 energy cannot exceed what the car had: half m v squared', () => {
    const { questions: asked } = ask(plain, { ...FILE, car: { mass_kg: 1100 } })
    expect(
      asked.some(
        (each) => /Wh kinetic energy came back/.test(each.why) && !/more than the car had/.test(each.why),
      ),
    ).toBe(true)
  })
})

describe('bounds where the drive did not go', () => {
  it('presses of 15 bar at most: full and ceiling are at least what was seen, and that holds', () => {
    const { regen } = ask(brakeDrive({ peaksBar: [9, 12, 15] }))
    expect(regen?.full_bar_bound).toBe('at-least')
    expect(regen?.max_nm_bound).toBe('at-least')
    expect(regen?.full_bar).toBeLessThanOrEqual(25)
    expect(regen?.max_nm).toBeLessThanOrEqual(60)
    expect(Math.abs(regen!.start_bar! - 3)).toBeLessThan(0.3)
  })
})

describe('faults', () => {
  it('dead band: attention past the file\u2019s start + 2 bar, else past 5 bar', () => {
    const late = brakeDrive({ startBar: 8 })
    const [found] = ask(late).loud
    expect(found?.kind).toBe('regen-dead-band')
    expect(found?.value).toBeCloseTo(8, 1)
    expect(found?.limit).toBe(5)
    expect(ask(late, {}).loud[0]?.limit).toBe(5)
    expect(ask(late, { brake: { regen_start_bar: 7 } }).loud).toEqual([])
    expect(ask(brakeDrive({ startBar: 4.6 })).loud).toEqual([])
  })

  it('step: 25 N·m at 8 bar', () => {
    const { loud } = ask(brakeDrive({ step: { bar: 8, nm: 25 } }))
    const step = loud.find((each) => each.kind === 'regen-step')
    expect(step?.value).toBeGreaterThan(20)
    expect(step?.value).toBeLessThan(28)
  })

  it('limited by the charge current, with time, energy and cause', () => {
    const { loud, regen } = ask(brakeDrive({ chargeA: 25 }))
    expect(loud.map((each) => each.kind)).toEqual(['regen-limited'])
    expect(loud[0]?.subject.name).toBe('charge current limit')
    expect(regen?.limited_by[0]?.lost_wh).toBeGreaterThan(1)
    expect(regen?.applications.some((each) => each.limited_by === 'charge current limit')).toBe(true)
  })

  it('lag of 0.8 s', () => {
    const { loud } = ask(brakeDrive({ lagS: 0.8 }))
    const lag = loud.find((each) => each.kind === 'regen-lag')
    expect(lag?.value).toBeCloseTo(0.8, 1)
  })

  it('the pressure is missing in two stops', () => {
    const { loud } = ask(brakeDrive({ silentStops: [5, 6] }))
    const missing = loud.find((each) => each.kind === 'brake-signal-missing')
    expect(missing?.value).toBeGreaterThan(3)
    expect(loud.map((each) => each.kind)).toEqual(['brake-signal-missing'])
  })
})

describe('logs of every habit', () => {
  const start = (drive: Drive) => ask(drive).regen?.start_bar

  it('no torque request; torque turned round; torque without sign', () => {
    const bare = without(plain, ['torque_request'])
    expect(start(bare)).toBeCloseTo(3, 0)
    const turned = without(bare, [], { torque: (nm) => -nm })
    expect(gatherFacts(turned, {}).once(motorTorque)?.sign).toBe('reversed')
    expect(start(turned)).toBeCloseTo(3, 0)
    const unsigned = without(bare, [], { torque: Math.abs })
    expect(gatherFacts(unsigned, {}).once(motorTorque)?.sign).toBe('unsigned')
    expect(start(unsigned)).toBeCloseTo(3, 0)
  })

  it('no torque at all: battery power over motor speed, with a wide interval that holds', () => {
    const { regen } = ask(without(plain, ['torque', 'torque_request']))
    expect(Math.abs(regen!.start_bar! - 3)).toBeLessThanOrEqual(regen!.start_bar_plus_minus!)
    expect(regen!.start_bar_plus_minus).toBeGreaterThan(0.3)
  })

  it.each([-20, 5, 8, 15])(
    'brake read %s ms after the request that follows it: the start stays where it is',
    (ms) => {
      const drive = brakeDrive({ hz: 20, stops: 20 })
      const channels = new Map(drive.channels)
      for (const id of ['brake_pressure', 'brake_switch']) {
        const channel = channels.get(id)!
        channels.set(id, { ...channel, timeS: channel.timeS.map((at) => at + ms / 1000) })
      }
      const { regen } = ask({ ...drive, channels })
      expect(Math.abs(regen!.start_bar! - 3)).toBeLessThanOrEqual(regen!.start_bar_plus_minus!)
      expect(regen!.start_bar_plus_minus).toBeLessThan(0.3)
      expect(regen!.delay_s).toBeGreaterThanOrEqual(0)
    },
  )

  it('lift-off regeneration is found and taken out', () => {
    const { regen, loud } = ask(brakeDrive({ liftNm: 10 }))
    expect(regen?.lift_nm).toBeCloseTo(10, 0)
    expect(regen?.start_bar).toBeCloseTo(3, 0)
    expect(Math.abs(regen!.max_nm! - 70)).toBeLessThan(2) // lift-off included (contract, schema 2)
    expect(Math.abs(regen!.brake_max_nm! - 60)).toBeLessThanOrEqual(regen!.brake_max_nm_plus_minus!)
    expect(loud).toEqual([])
  })

  it('a car that regenerates on lift-off alone has no dead band, unless its file says it should follow the brake', () => {
    const lift = brakeDrive({ liftNm: 12, maxNm: 0.01 })
    expect(ask(lift, {}).loud).toEqual([])
    expect(ask(lift, { brake: { regen_input: ['pedal-lift'] } }).loud).toEqual([])
    const [never] = ask(lift, { brake: { regen_input: ['pressure'], regen_start_bar: 3 } }).loud
    expect(never?.kind).toBe('regen-dead-band')
    expect(never?.bound).toBe('at-least')
    expect(never?.value).toBeGreaterThan(25)
  })

  it('10 Hz still finds the start; 1 Hz gives an interval that holds or nothing', () => {
    expect(start(brakeDrive({ hz: 10 }))).toBeCloseTo(3, 0)
    const { regen, loud } = ask(brakeDrive({ hz: 1, stops: 20 }))
    expect(loud).toEqual([])
    if (regen?.start_bar) expect(Math.abs(regen.start_bar - 3)).toBeLessThan(1.5)
  })

  it.each([0, 8])(
    'no accelerator in the log, %s N·m on lift-off: the map stands and nothing is said to be held back',
    (liftNm) => {
      const drive = brakeDrive(liftNm === 0 ? {} : { liftNm })
      const { regen, loud } = ask(without(drive, ['pedal_position', 'pedal_track_1', 'pedal_track_2']))
      expect(loud).toEqual([])
      expect(Math.abs(regen!.start_bar! - 3)).toBeLessThanOrEqual(regen!.start_bar_plus_minus!)
      expect(regen!.zero_bar).toBeCloseTo(PLAIN.sensorZeroBar, 2)
    },
  )

  it('no accelerator in the log of a driver who brakes soon after driving: drive torque is not taken for missing regeneration', () => {
    const made = simulate(randomCase({ seed: 9139, durationS: [220, 320] }))
    const { regen, loud } = ask(
      without(made.drive, ['pedal_position', 'pedal_track_1', 'pedal_track_2']),
      made.vehicle,
    )
    expect(regen!.max_nm).not.toBeNull()
    expect(loud).toEqual([])
  })

  it('brake switch only, travel only, and no brake signal', () => {
    const contact = ask(without(plain, ['brake_pressure']))
    expect(contact.regen?.start_bar).toBeNull()
    expect(contact.regen?.max_nm).toBeGreaterThan(20)
    expect(contact.loud).toEqual([])
    const travel = ask(asTravel(plain))
    expect(travel.regen?.start_bar).toBeNull()
    expect(travel.loud).toEqual([])
    const none = ask(without(plain, ['brake_pressure', 'brake_switch']))
    expect(none.regen).toBeNull()
    expect(none.questions[0]?.state).toBe('not-assessed')
    expect(none.questions[0]?.missing).toContain('brake_pressure')
  })

  it('an empty drive, and one of a single sample', () => {
    expect(ask(driveFromColumns([], {})).questions.every((each) => each.state === 'not-assessed')).toBe(true)
    expect(ask(driveFromColumns([0], { brake_pressure: [0], torque: [0], speed: [0] })).loud).toEqual([])
  })
})

function asTravel(drive: Drive): Drive {
  const channels = new Map(drive.channels)
  const pressure = channels.get('brake_pressure')!
  channels.delete('brake_pressure')
  channels.set('brake_travel', {
    ...pressure,
    id: 'brake_travel',
    unit: '%',
    values: pressure.values.map((bar) => 1.5 * (bar - 0.4)),
  })
  return { ...drive, channels }
}
