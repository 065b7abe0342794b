import { describe, expect, it } from 'vitest'
import { tableCsv, tableText } from '../../shared/map-table.ts'
import { regenMap } from '../../src/brake/models/regen-map.ts'
import { regenStep } from '../../src/brake/models/regen-step.ts'
import { replayModel } from '../../src/brake/models/replay-model.ts'
import { slowingNm } from '../../src/brake/models/slowing-map.ts'
import { braking } from '../../src/brake/questions/braking.ts'
import { regeneration } from '../../src/brake/questions/regeneration.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { replayAnswer } from '../../src/server/replay-drive.ts'
import { brakeDrive } from '../helpers/brake-drive.ts'
import { apart, regenDisagreements, regenTold } from '../helpers/regen-disagreements.ts'
import { randomCase } from '../simulator/random-case.ts'
import { secondCase } from '../simulator/second/random-second.ts'
import { simulateSecond } from '../simulator/second/simulate-second.ts'
import { simulate } from '../simulator/simulate.ts'

const AXLE = {
  mass_kg: 1700,
  wheel_radius_m: 0.3,
  gear_ratio: 9,
  driven_axle: 'rear',
  wheelbase_m: 2.4,
  front_mass_share: 0.5,
}

// Every other review that any test makes is held to the same (tests/helpers/every-review.ts).
describe('every surface tells the same figures', () => {
  const limited = () => [{ kind: 'regen-limited', amps: 25 }] as const
  it.each([
    ['first simulator', () => simulate(randomCase({ seed: 6, durationS: [150, 170], faults: limited }))],
    [
      'second simulator',
      () => simulateSecond(secondCase({ seed: 6, durationS: [150, 170], faults: limited })),
    ],
  ] as const)('%s, held back by a limit: largest disagreement 0 after rounding', (_, made) => {
    const { drive, vehicle } = made()
    const told = regenTold(reviewDrive(drive, vehicle))
    expect(told.length).toBeGreaterThan(20)
    expect(told.filter((each) => /held back/.test(each.what)).length).toBeGreaterThan(2)
    expect(Math.max(...told.map((each) => Math.round(1e6 * apart(each)) / 1e6))).toBe(0)
  })

  it('a figure that departs is found', () => {
    const { drive, vehicle } = { drive: brakeDrive({ liftNm: 6 }), vehicle: {} }
    const review = reviewDrive(drive, vehicle)
    const bent = { ...review, regen: { ...review.regen!, max_nm: review.regen!.max_nm! + 1 } }
    expect(regenDisagreements(bent).join()).toContain('most and line')
  })
})

describe.each([
  ['ends reached', brakeDrive({ liftNm: 6 })],
  ['ends not reached', brakeDrive({ startBar: 8, peaksBar: [11, 13, 15], liftNm: 6 })],
  ['a jump', brakeDrive({ step: { bar: 8, nm: 25 } })],
] as const)('every figure of regeneration comes from the one model: %s', (_, drive) => {
  const facts = gatherFacts(drive, { car: AXLE, controller_max_nm: 120 })
  const answer = regeneration(facts)
  const regen = answer.sections!.regen!
  const fit = facts.once(regenMap)!
  const model = facts.once(replayModel)!

  it('figures, line, replay and sentences agree', () => {
    let worst = 0
    // a point stands on the map, or beside a jump of it
    for (const [bar, nm] of regen.curve) {
      const sides = [bar, bar - 1e-9, bar - 0.01 + 1e-9].map((at) => slowingNm(fit.map, Math.max(0, at), 60))
      worst = Math.max(worst, Math.min(...sides.map((side) => Math.abs(nm - side))))
    }
    expect(worst).toBeLessThan(1e-6)
    const top = Math.max(...regen.curve.map((point) => point[1]))
    expect(top).toBeLessThanOrEqual(regen.max_nm! / (regen.max_nm_bound === 'exact' ? 1 : 0.95) + 1e-6)
    const { map } = regen.replays[0]!
    expect(map.start_bar).toBeCloseTo(regen.start_bar!, 9)
    if (regen.max_nm_bound === 'exact') {
      expect(map.max_nm).toBeCloseTo(regen.max_nm!, 9)
      expect(map.full_bar).toBeCloseTo(regen.full_bar!, 9)
    } else {
      expect(regen.max_nm!).toBeLessThanOrEqual(map.max_nm)
      expect(regen.full_bar!).toBeLessThanOrEqual(map.full_bar)
    }
    expect(answer.questions[0]!.why).toContain(`begins at ${regen.start_bar!.toFixed(1)}`)
    expect(regen.brake_max_nm! + regen.lift_nm!).toBeCloseTo(regen.max_nm!, 9)
    const step = facts.once(regenStep)
    if (fit.map.step) expect(step!.jumpNm).toBe(fit.map.step.nm)
  })

  it('friction per bar is one figure in text, JSON and replay', () => {
    const text = braking(facts).questions[0]!.why
    expect(text).toContain(
      `friction ${regen.friction_per_bar!.toFixed(3)} ± ${regen.friction_per_bar_plus_minus!.toFixed(3)}`,
    )
    const replayed = replayAnswer(model, regen.replays[0]!.map)
    expect(replayed.friction_alone_per_bar).toBe(regen.friction_per_bar)
    expect(replayed.friction_alone_per_bar_plus_minus).toBe(regen.friction_per_bar_plus_minus)
    expect(replayed.before!.recovered_wh! / regen.recovered_wh!).toBeCloseTo(1, 1)
  })

  it('proposals: a table of 5 to 12 rising points, in N·m and per cent, within its stated error; none loses for nothing', () => {
    for (const { table, aim, replays, uneven_percent, uneven_percent_before } of regen.proposals) {
      expect(table.pressure.length).toBeGreaterThanOrEqual(5)
      expect(table.pressure.length).toBeLessThanOrEqual(12)
      for (const [k, point] of table.pressure.entries()) {
        expect(point.percent!).toBeCloseTo((100 * point.brake_nm) / 120, 0)
        if (k > 0) expect(point.brake_nm).toBeGreaterThanOrEqual(table.pressure[k - 1]!.brake_nm)
      }
      expect(table.error_nm).toBeLessThan(0.5)
      expect(tableText(table)).toContain('[bar]')
      expect(tableCsv(table).split('\n')[0]).toContain('[N·m]')
      const gained = replays[1]!.recovered_wh! / regen.recovered_wh!
      if (aim === 'more') expect(gained).toBeGreaterThan(1.02)
      if (aim === 'natural') expect(uneven_percent!).toBeLessThan(uneven_percent_before! - 9)
    }
  })
})
