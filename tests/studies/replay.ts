/**
 * Is the replay honest? Drive A is driven in the simulator, replayed with map B, and compared with what the simulator
 * gives when the same driver drives the same route with map B. 50 random pairs; prints error and coverage.
 * `npm run study:replay [pairs] [first seed]`
 */

import type { RegenMap } from '../../shared/review.ts'
import { regenMap } from '../../src/brake/models/regen-map.ts'
import { mapOfReview, replay } from '../../src/brake/models/replay.ts'
import { replayModel } from '../../src/brake/models/replay-model.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { makeCar } from '../simulator/car.ts'
import { Random } from '../simulator/random.ts'
import { randomCase } from '../simulator/random-case.ts'
import { simulate } from '../simulator/simulate.ts'

export interface ReplayOutcome {
  readonly seed: number
  readonly asDrivenWh: number
  readonly trueWh: number
  readonly predictedWh: number
  readonly plusMinusWh: number
  readonly errorPercent: number
  readonly covered: boolean
  readonly callMs: number
}

/** One pair; null where drive A shows no map (too few presses) or no friction. */
export function replayPair(seed: number): ReplayOutcome | null {
  const base = randomCase({ seed, durationS: [280, 420] })
  const car = makeCar(base.car)
  const random = new Random(seed).fork('map B')
  const startBar = random.between(0.5, 6)
  const low = random.between(2, 7)
  const mapB: RegenMap = {
    start_bar: startBar,
    full_bar: startBar + random.between(10, 30),
    max_nm: car.brake.maxNm * random.between(0.5, 1.5),
    fade_kmh: [low, low + random.between(4, 12)],
  }
  const a = simulate(base)
  const b = simulate({
    ...base,
    car: {
      ...base.car,
      brake: {
        ...base.car?.brake,
        startBar: mapB.start_bar,
        fullBar: mapB.full_bar,
        maxNm: mapB.max_nm,
        fadeKmh: [...mapB.fade_kmh],
      },
    },
  })
  const facts = gatherFacts(a.drive, a.vehicle)
  const model = facts.once(replayModel)
  if (!model || !facts.once(regenMap)) return null
  const started = performance.now()
  const found = replay(
    model,
    mapOfReview({ ...mapB, max_nm: mapB.max_nm + model.driven.liftNm }, model.driven),
    'same-deceleration',
  )
  const callMs = performance.now() - started
  if (found.recovered_wh === null || found.recovered_wh_plus_minus === null) return null
  const trueWh = b.truth.energyInWh
  return {
    seed,
    asDrivenWh: a.truth.energyInWh,
    trueWh,
    predictedWh: found.recovered_wh,
    plusMinusWh: found.recovered_wh_plus_minus,
    errorPercent: 100 * (found.recovered_wh / trueWh - 1),
    covered: Math.abs(found.recovered_wh - trueWh) <= found.recovered_wh_plus_minus,
    callMs,
  }
}

function main(): void {
  const pairs = Number(process.argv[2] ?? 50)
  const first = Number(process.argv[3] ?? 1)
  const errors: number[] = []
  let covered = 0
  let skipped = 0
  for (let seed = first; errors.length < pairs && seed < first + 3 * pairs; seed++) {
    const outcome = replayPair(seed)
    if (!outcome) {
      skipped++
      continue
    }
    errors.push(Math.abs(outcome.errorPercent))
    if (outcome.covered) covered++
    console.log(
      `${String(seed).padStart(4)}  as driven ${outcome.asDrivenWh.toFixed(1)} Wh, map B ${outcome.trueWh.toFixed(1)} Wh, replay ${outcome.predictedWh.toFixed(1)} ± ${outcome.plusMinusWh.toFixed(1)} Wh (${outcome.errorPercent.toFixed(1)} %)${outcome.covered ? '' : '  outside'}  ${outcome.callMs.toFixed(1)} ms`,
    )
  }
  errors.sort((x, y) => x - y)
  const within = errors.filter((error) => error <= 5).length
  console.log(
    `${errors.length} pairs (${skipped} drives without a readable map): ${within} within 5 %, median ${errors[errors.length >> 1]?.toFixed(2)} %, worst ${errors[errors.length - 1]?.toFixed(2)} %; interval covers ${covered} of ${errors.length}`,
  )
}

if (process.argv[1] === import.meta.filename) main()
