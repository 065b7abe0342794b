import { describe, expect, it } from 'vitest'
import type { RegenMap } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { raisedNm } from '../../src/brake/models/axle-lock.ts'
import { regenTuning } from '../../src/brake/models/regen-tuning.ts'
import { mapOfReview, pressFor, replay } from '../../src/brake/models/replay.ts'
import { replayModel } from '../../src/brake/models/replay-model.ts'
import { FORMS, type SlowingMap, slowingNm } from '../../src/brake/models/slowing-map.ts'
import { regeneration } from '../../src/brake/questions/regeneration.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { withholdProposals } from '../../src/review/withhold-proposals.ts'
import { brakeDrive } from '../helpers/brake-drive.ts'
import { replayPair } from '../studies/replay.ts'

const MAP: RegenMap = { start_bar: 3, full_bar: 25, max_nm: 60, fade_kmh: [5, 12] }
const drive = brakeDrive()
const facts = gatherFacts(drive, {})
const model = facts.once(replayModel)!
const wish = (map: RegenMap): SlowingMap => mapOfReview(map, model.driven)
const DRIVEN: SlowingMap = {
  form: 'sum',
  start: 8,
  full: 25,
  brakeNm: 60,
  fade: [5, 12],
  liftNm: 0,
  liftFade: [5, 12],
  step: null,
}

describe('replay', () => {
  it('with the map that was driven gives what was driven, for both drivers', () => {
    for (const driver of ['same-pressure', 'same-deceleration'] as const) {
      const again = replay(model, wish(MAP), driver)
      expect(again.recovered_wh! / model.chargedWh).toBeCloseTo(1, 2)
      expect(again.at_limit_percent).toBe(0)
    }
  })

  // The test's own car, driven again with another map and the same presses: nothing is shared with the replay's model.
  it.each([
    ['half the ceiling', { ...MAP, max_nm: 30 }],
    ['a late start', { ...MAP, start_bar: 9 }],
    ['a full pressure of 40 bar', { ...MAP, full_bar: 40 }],
  ] as const)('same pressure, %s: within 5 % of the car driven so', (_, map) => {
    const other = gatherFacts(
      brakeDrive({
        startBar: map.start_bar,
        fullBar: map.full_bar,
        maxNm: map.max_nm,
        fadeKmh: map.fade_kmh as [number, number],
      }),
      {},
    ).once(replayModel)!
    const found = replay(model, wish(map as RegenMap), 'same-pressure')
    expect(Math.abs(found.recovered_wh! / other.chargedWh - 1)).toBeLessThan(0.05)
  })

  // The simulator's driver follows the same speeds with either map.
  it.each([5, 9])(
    'same deceleration against the simulator, pair %i: within 5 %, inside the interval',
    (seed) => {
      const outcome = replayPair(seed)!
      expect(Math.abs(outcome.errorPercent)).toBeLessThan(5)
      expect(outcome.covered).toBe(true)
    },
  )

  it('answers sliders with the same figures every time', () => {
    expect(replay(model, wish(MAP), 'same-pressure')).toEqual(replay(model, wish(MAP), 'same-pressure'))
  })

  it('finds the press that gives a torque, in every form', () => {
    for (const form of FORMS) {
      const shape: SlowingMap = { ...DRIVEN, form, start: 3, liftNm: 4, liftFade: [4, 9] }
      for (const kmh of [7, 30])
        for (const bar of [0, 0.8, 2, 3.4, 7.7, 25, 40]) {
          const nm = slowingNm(shape, bar, kmh) + 3.2 * Math.max(0, bar - 1)
          const found = pressFor(shape, kmh, nm, 3.2, 1)
          // the least press that gives it: a form that replaces falls at its start, so a lighter press may do
          expect(found).toBeLessThanOrEqual(bar + 1e-6)
          if (form !== 'replaces')
            expect(slowingNm(shape, found, kmh) + 3.2 * Math.max(0, found - 1)).toBeCloseTo(nm, 5)
        }
    }
  })
})

describe('proposals', () => {
  const late = brakeDrive({ startBar: 8 })
  const AXLE = {
    mass_kg: 1000,
    wheel_radius_m: 0.3,
    gear_ratio: 9,
    driven_axle: 'rear',
    wheelbase_m: 2.4,
    front_mass_share: 0.5,
    centre_of_gravity_m: 0.5,
  }
  const tune = (vehicle: Vehicle) => gatherFacts(late, vehicle).once(regenTuning)

  it('none raises regeneration without what the axle check needs, and the reason names it', () => {
    const found = tune({})
    for (const { map } of found.proposals)
      expect(raisedNm(DRIVEN, mapOfReview(map, DRIVEN), 60)).toBeLessThan(0.6)
    expect(found.withheld).toContain('“Wheelbase”')
  })

  it('with it, the start moves down as far as the check holds, each with replays and the press without regeneration', () => {
    const { proposals } = tune({ car: AXLE })
    expect(proposals.length).toBeGreaterThan(0)
    const [first] = proposals
    expect(first!.map.start_bar).toBeLessThan(3)
    expect(first!.replays.map((each) => each.driver)).toEqual(['same-pressure', 'same-deceleration'])
    expect(first!.without_regen).toContain('regeneration gone')
    expect(first!.cautions[0]).toContain('walking pace')
    for (let bar = 0; bar < 33; bar++) {
      const nm = slowingNm(mapOfReview(first!.map, DRIVEN), bar, 40)
      // by hand: half of 0.25 of the rear axle's load, about 600 N, is 20 N·m here
      if (nm > slowingNm(DRIVEN, bar, 40) + 1) expect(nm).toBeLessThan(20.5)
    }
  })

  it('never go above the torque that the drive reached', () => {
    // heavy enough that the axle check leaves room at these light presses
    const light = gatherFacts(brakeDrive({ startBar: 8, peaksBar: [11, 13, 15] }), {
      car: { ...AXLE, mass_kg: 1700 },
    })
    const reached = Math.max(...light.once(replayModel)!.drivenNm)
    expect(reached).toBeLessThan(30) // the car's ceiling is 60
    const { proposals } = light.once(regenTuning)
    expect(proposals.length).toBeGreaterThan(0)
    for (const each of proposals) expect(each.map.max_nm).toBeLessThanOrEqual(reached + 0.5)
  })

  it('are withheld while a finding says stop or isolation is unseen', () => {
    const regen = regeneration(gatherFacts(late, { car: AXLE })).sections!.regen!
    const open = { standing: null, walking: null, road: null }
    expect(withholdProposals(regen, open)?.proposals.length).toBeGreaterThan(0)
    const closed = { ...open, road: 'this log does not assess isolation' }
    expect(withholdProposals(regen, closed)?.proposals).toEqual([])
    expect(withholdProposals(regen, closed)?.proposals_withheld).toContain('isolation')
  })
})
