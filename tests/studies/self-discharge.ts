import type { Review } from '../../shared/review.ts'
import { withEarlierRests } from '../../src/library/earlier-rests.ts'
import { reviewDrive } from '../../src/review/review.ts'
import type { Fault } from '../simulator/faults.ts'
import { Random } from '../simulator/random.ts'
import { randomCase } from '../simulator/random-case.ts'
import { secondCase } from '../simulator/second/random-second.ts'
import { simulateSecond } from '../simulator/second/simulate-second.ts'
import { type Measured, simulate } from '../simulator/simulate.ts'
import { type Model, studyArguments } from './two-models.ts'

/**
 * Two drives of one car on both simulators, days apart, at other charge, on another road: with a cell that emptied by
 * itself in between (nickel cells: half full iron phosphate ones do not show it), and healthy, of either chemistry; every
 * third healthy one has a weak cell of less capacity. Which cell is told, and by which rate.
 *
 *     npm run study:self-discharge -- [pairs a model, default 10] [--from=SEED] [--model=first|second|both] [--without-vehicle]
 */
export interface Pair {
  readonly before: Review
  readonly after: Review
  readonly vehicle: Measured['vehicle']
  readonly cell: number
  /** Fall of the cell's charge in between, share a day. */
  readonly perDay: number
  readonly days: number
}

/** One pair of drives. Same arguments, same pair. */
export function twoDrives(model: Model, seed: number, ill: boolean, bare = false): Pair {
  const random = new Random(seed).fork(`self-discharge ${model}`)
  const days = random.between(1.5, 14)
  const perDay = ill ? random.between(0.01, 0.03) : 0
  const lost = Math.min(perDay * days, 0.12)
  const [socBefore, socAfter] = [random.between(0.45, 0.85), random.between(0.45, 0.85)]
  const cell = random.whole(3, 30)
  const weak: Fault[] =
    !ill && seed % 3 === 0 ? [{ kind: 'weak-cell', cell, ratio: 1.3, capacity: 0.93 }] : []
  const drive = (after: boolean): Measured => {
    const faults: Fault[] = [
      ...weak,
      ...(after && ill ? [{ kind: 'imbalance' as const, cell, soc: -lost }] : []),
    ]
    const startSoc = after ? socAfter : socBefore
    const durationS = after ? ([60, 90] as const) : ([60, 110] as const)
    if (model === 'first') {
      const options = randomCase({ seed: 700_000 + seed, durationS, kind: after ? 'urban' : 'mixed' })
      const pack = { ...options.car!.pack, startSoc, ...(ill ? { chemistry: 'nmc' as const } : {}) }
      return simulate({ ...options, faults, car: { ...options.car, pack } })
    }
    const options = secondCase({
      seed: 700_000 + seed,
      durationS,
      build: { cells: { startSoc, ...(ill ? { chemistry: 'nmc' as const } : {}) } },
    })
    return simulateSecond({ ...options, faults })
  }
  const reviewed = (after: boolean): { review: Review; vehicle: Measured['vehicle'] } => {
    const made = drive(after)
    const vehicle = bare ? {} : made.vehicle
    const startedAt = new Date(Date.UTC(2031, 4, 1) + (after ? days * 864e5 : 0)).toISOString()
    return { review: reviewDrive({ ...made.drive, startedAt }, vehicle), vehicle }
  }
  const [before, after] = [reviewed(false), reviewed(true)]
  return {
    before: before.review,
    after: after.review,
    vehicle: after.vehicle,
    cell,
    perDay: days > 0 ? lost / days : 0,
    days,
  }
}

/** What the later review says beside the earlier one. */
export const beside = ({ before, after, vehicle }: Pair): Review =>
  withEarlierRests(after, [{ review: before, name: 'Juniper' }], vehicle)

if (process.argv[1] === import.meta.filename) {
  const { count, from, models, bare } = studyArguments(process.argv.slice(2), 10)
  let [found, wrong, healthy, held] = [0, 0, 0, 0]
  for (const model of models)
    for (let seed = from; seed < from + count; seed++)
      for (const ill of [true, false]) {
        const pair = twoDrives(model, seed, ill, bare)
        const told = beside(pair).findings.filter(({ kind }) => kind === 'cell-self-discharge')
        const right = told.filter(({ subject }) => ill && subject.index === pair.cell)
        if (right.length > 0) found++
        if (!ill && told.length > 0) healthy++
        if (ill && told.length > right.length) wrong++
        const rest = beside(pair).questions.find(({ question }) => question.startsWith('Did a cell empty'))
        held += right.some(({ severity }) => severity === 'attention') ? 1 : 0
        if (ill ? right.length !== 1 || told.length !== 1 : told.length > 0)
          console.log(
            `${model} seed ${seed}, ${ill ? `${(100 * pair.perDay).toFixed(1)} % a day of cell ${pair.cell}` : 'healthy'}, ${pair.days.toFixed(1)} days: ` +
              `${told.map(({ severity, headline }) => `${severity} ${headline}`).join('; ') || 'nothing'} (${rest?.state}: ${rest?.why}; ${rest?.smallest_seen})`,
          )
      }
  const asked = models.length * count
  console.log(
    `a cell that emptied between two drives: found ${found} of ${asked} (${held} at attention), another cell named in ${wrong}; healthy pairs with a finding: ${healthy} of ${asked}`,
  )
}
