/**
 * Does a proposal do what it promised? Random cars of both simulators: a drive, its proposals, each set in the car and
 * driven on another road, beside the same road with today's map. Slowing per bar and the change of recovered energy against
 * their forecasts. One line a proposal, kept in a file: what is there is not driven again.
 * `npm run study:closed-loop -- FILE [cars] [first seed]`; without cars it sums up what the file holds.
 */

import { appendFileSync, existsSync, readFileSync } from 'node:fs'
import type { Drive } from '../../shared/drive.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { brakeFeel } from '../../src/brake/models/brake-feel.ts'
import { regenMap } from '../../src/brake/models/regen-map.ts'
import { regenTuning } from '../../src/brake/models/regen-tuning.ts'
import { asDriven } from '../../src/brake/models/replay.ts'
import { replayModel } from '../../src/brake/models/replay-model.ts'
import type { SlowingMap } from '../../src/brake/models/slowing-map.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { type ControllerMap, PLAIN_MAP } from '../simulator/controller-map.ts'
import { Random } from '../simulator/random.ts'
import { randomCase } from '../simulator/random-case.ts'
import { secondCase } from '../simulator/second/random-second.ts'
import { simulateSecond } from '../simulator/second/simulate-second.ts'
import { simulate } from '../simulator/simulate.ts'

interface Ramp {
  readonly startBar: number
  readonly fullBar: number
  readonly maxNm: number
  readonly liftNm: number
  readonly fadeKmh: readonly [number, number]
  readonly map: ControllerMap
}

function draw(seed: number): Ramp {
  const random = new Random(seed).fork('closed loop')
  const startBar = random.between(2, 8)
  const liftNm = random.pick([0, 5, 10])
  const low = random.between(2, 5)
  return {
    startBar,
    fullBar: startBar + random.between(12, 35),
    maxNm: random.between(30, 90),
    liftNm,
    fadeKmh: [low, low + random.between(3, 9)],
    map: { ...PLAIN_MAP, form: liftNm === 0 ? 'sum' : random.pick(['sum', 'larger', 'replaces'] as const) },
  }
}

interface Made {
  readonly drive: Drive
  readonly vehicle: Vehicle
  readonly inWh: number
}

/** The car of a seed with a ramp of the brake, on a road. */
function drivenOn(seed: number, road: number, ramp: Ramp): Made {
  const durationS = [300, 400] as const
  if (seed % 2 === 1) {
    const base = randomCase({ seed, durationS, kind: 'urban' })
    const made = simulate({
      ...base,
      seed: road,
      car: { ...base.car, brake: { ...base.car?.brake, ...ramp } },
    })
    return { ...made, inWh: made.truth.energyInWh }
  }
  const base = secondCase({ seed, durationS })
  const made = simulateSecond({
    ...base,
    seed: road,
    build: { ...base.build, brake: { ...base.build?.brake, ...ramp } },
  })
  return { ...made, inWh: made.truth.energyInWh }
}

/** By four scales and a tape: what the axle check asks for. */
const measured = (vehicle: Vehicle): Vehicle => ({
  ...vehicle,
  car: { ...vehicle.car, wheelbase_m: 2.4, front_mass_share: 0.48, centre_of_gravity_m: 0.5 },
})

/** The proposal as somebody types it in: the brake part's ramp; lift-off and the way they join stay the car's. */
const setIn = (ramp: Ramp, map: SlowingMap): Ramp => ({
  ...ramp,
  startBar: Math.max(0, map.start),
  fullBar: map.full,
  maxNm: map.brakeNm,
  fadeKmh: [map.fade[0], map.fade[1]],
})

interface Line {
  readonly seed: number
  readonly aim: string
  readonly ramp?: Ramp
  readonly withheld?: string | null
  /** Recovered as driven and foretold on the first road, Wh, and the forecast's half width. */
  readonly wh?: readonly [before: number, after: number, plusMinus: number]
  /** Foretold change on another road, %, and its half width. */
  readonly change?: readonly [percent: number | null, plusMinus: number | null]
  /** Truly recovered on the other road with today's map and with the new one. */
  readonly trueWh?: readonly [before: number, after: number]
  readonly uneven?: readonly [before: number | null, after: number | null, measured: number | null]
  /** m/s² per bar: foretold, ±, measured, ±. */
  readonly perBar?: readonly (number | null)[]
}

function car(seed: number): Line[] {
  const ramp = draw(seed)
  const first = drivenOn(seed, seed, ramp)
  const facts = gatherFacts(first.drive, measured(first.vehicle))
  const tuning = facts.once(regenTuning)
  const model = facts.once(replayModel)
  if (tuning.proposals.length === 0 || !model) return [{ seed, aim: 'none', ramp, withheld: tuning.withheld }]
  const before = asDriven(model, 'same-deceleration')
  const today = drivenOn(seed, seed + 1000, ramp)
  return tuning.proposals.map((each): Line => {
    const after = each.replays[1]!
    const made = drivenOn(seed, seed + 1000, setIn(ramp, each.asTried))
    const again = gatherFacts(made.drive, measured(made.vehicle))
    const then = again.once(replayModel)
    const seen = then ? asDriven(then, 'same-deceleration') : null
    const feel = again.once(regenMap) ? again.once(brakeFeelUneven) : null
    return {
      seed,
      aim: each.aim,
      ramp,
      wh: [before.recovered_wh!, after.recovered_wh!, after.recovered_wh_plus_minus!],
      change: [each.energy_change_percent, each.energy_change_percent_plus_minus],
      trueWh: [today.inWh, made.inWh],
      uneven: [each.uneven_percent_before, each.uneven_percent, feel],
      perBar: [
        after.deceleration_per_bar,
        after.deceleration_per_bar_plus_minus,
        seen?.deceleration_per_bar ?? null,
        seen?.deceleration_per_bar_plus_minus ?? null,
      ],
    }
  })
}

const brakeFeelUneven = (facts: ReturnType<typeof gatherFacts>): number | null =>
  facts.once(brakeFeel).find((each) => /even slowing/.test(each.what))?.value ?? null

const [file, count, from] = process.argv.slice(2)
if (!file) throw new Error('a file for the results is wanted')
const lines: Line[] = existsSync(file)
  ? readFileSync(file, 'utf8')
      .trim()
      .split('\n')
      .filter(Boolean)
      .map((line) => JSON.parse(line) as Line)
  : []
for (let seed = Number(from ?? 1); seed < Number(from ?? 1) + Number(count ?? 0); seed++) {
  if (lines.some((each) => each.seed === seed)) continue
  for (const line of car(seed)) {
    lines.push(line)
    appendFileSync(file, `${JSON.stringify(line)}\n`)
  }
}
let [energy, bars, told, all] = [0, 0, 0, 0]
const n = (value: number | null | undefined, places = 0): string => value?.toFixed(places) ?? '\u2013'
for (const { seed, aim, withheld, wh, change, trueWh, uneven, perBar } of lines) {
  if (!wh || !trueWh) {
    console.log(`${seed} no proposal: ${withheld}`)
    continue
  }
  all++
  const foretold = 1 + (change?.[0] ?? 0) / 100
  const within = (change?.[1] ?? 0) / 100
  const was = trueWh[1] / trueWh[0]
  const meets = Math.abs(foretold - was) <= within
  if (meets) energy++
  const [p, pm, m, mm] = perBar ?? []
  const barMeets = p != null && m != null && Math.abs(p - m) <= Math.hypot(pm ?? 0, mm ?? 0)
  if (p != null && m != null) told++
  if (barMeets) bars++
  console.log(
    `${seed} ${aim}: energy ${n(wh[0])} \u2192 ${n(wh[1])} \u00b1 ${n(wh[2])} Wh (\u00d7 ${n(foretold, 3)} \u00b1 ${n(within, 3)}), on the other road ${n(trueWh[0])} \u2192 ${n(trueWh[1])} (\u00d7 ${n(was, 3)})${meets ? '' : ' OUTSIDE'}; uneven ${n(uneven?.[0])} \u2192 ${n(uneven?.[1])} %, measured ${n(uneven?.[2])} %; per bar ${n(p, 3)} \u00b1 ${n(pm, 3)}, measured ${n(m, 3)} \u00b1 ${n(mm, 3)}${barMeets ? '' : ' OUTSIDE'}`,
  )
}
console.log(
  `${new Set(lines.map((each) => each.seed)).size} cars, ${all} proposals: energy's change within its interval ${energy} of ${all}, slowing per bar ${bars} of ${told}`,
)
