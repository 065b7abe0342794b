import { median } from '../../src/math/stats.ts'
import type { Fault } from '../simulator/faults.ts'
import type { Random } from '../simulator/random.ts'
import { randomCase } from '../simulator/random-case.ts'
import { secondCase } from '../simulator/second/random-second.ts'
import { type SecondSimulated, simulateSecond } from '../simulator/second/simulate-second.ts'
import { type Measured, simulate } from '../simulator/simulate.ts'

/** Random drives of either simulator behind one door, so that a study prints both side by side. */
export type Model = 'first' | 'second'

/** What a study needs to know of a pack to put a fault into it. */
export interface Shape {
  readonly perModule: readonly number[]
  readonly cells: number
  readonly parallel: number
  readonly chemistry: 'nmc' | 'lfp'
  /** Readings (from 1) that hold the link between two boxes. */
  readonly boxBorders: readonly number[]
}

export interface DrawOptions {
  readonly model: Model
  readonly seed: number
  readonly faults?: (shape: Shape, random: Random) => readonly Fault[]
  readonly durationS?: readonly [number, number]
  /** Driven hard, and in the second model with cells that lose more, so that the pack warms: for questions of heat. */
  readonly warm?: boolean
}

export function draw({ model, seed, faults, durationS, warm }: DrawOptions): Measured {
  const span = durationS ? { durationS } : {}
  if (model === 'first')
    return simulate(
      randomCase({
        seed,
        ...span,
        ...(warm ? { kind: 'hard' } : {}),
        faults: (car, random) =>
          faults?.(
            shape(
              car.pack.cellsPerModule,
              car.pack.boxOfModule,
              car.pack.jointReadWith,
              car.pack.longLinksRead,
              car.pack.parallel,
              car.pack.chemistry,
            ),
            random,
          ) ?? [],
      }),
    )
  return simulateSecond(
    secondCase({
      seed,
      ...span,
      ...(warm
        ? {
            road: { phases: [1, 2, 3], haste: 2, slopePercent: 7 },
            build: { cells: { ohmicMohmAh: 95, kinetics: 1.2 } },
          }
        : {}),
      faults: ({ cells, boxOfModule, links }, random) =>
        faults?.(
          shape(
            cells.perModule,
            boxOfModule,
            links.readWith,
            links.specialRead,
            cells.parallel,
            cells.chemistry,
          ),
          random,
        ) ?? [],
    }),
  )
}

function shape(
  perModule: readonly number[],
  boxOfModule: readonly string[],
  readWith: 'lower' | 'upper',
  read: boolean,
  parallel: number,
  chemistry: Shape['chemistry'],
): Shape {
  const boxBorders: number[] = []
  let last = 0
  for (let m = 0; m < perModule.length - 1; m++) {
    last += perModule[m]!
    if (read && boxOfModule[m] !== boxOfModule[m + 1]) boxBorders.push(readWith === 'lower' ? last : last + 1)
  }
  const cells = perModule.reduce((sum, count) => sum + count, 0)
  return { perModule, cells, parallel, chemistry, boxBorders }
}

/** Does cruise control, creep or hold act in this car that no channel shows? Its course alone can prove it then. */
export function hiddenFunction(made: Measured): boolean {
  const functions = (made as Partial<SecondSimulated>).run?.build.functions
  return (
    functions !== undefined && !functions.shown && (functions.cruise || functions.creep || functions.hold)
  )
}

/** One line that says what was driven, for whoever looks into a seed. */
export function describe(model: Model, seed: number, made: Measured): string {
  const cell = made.samples.find((each) => each.id === 'cell_voltage.1')!
  const { truth, vehicle } = made
  return (
    `${model} seed ${seed}: ${vehicle.pack?.chemistry} ${vehicle.pack?.cells} cells, ${truth.durationS.toFixed(0)} s, ` +
    `${truth.distanceKm.toFixed(1)} km, R ${truth.medianOhmicMohm.toFixed(2)} mΩ, cells ${cell.reading.rateHz} Hz, ` +
    `rise ${median(truth.modules.map((each) => each.riseC)).toFixed(1)} K`
  )
}

export interface StudyArguments {
  readonly count: number
  readonly from: number
  readonly models: readonly Model[]
  readonly bare: boolean
  readonly words: readonly string[]
}

/** `N --model=first|second|both --without-vehicle --from=SEED words…` */
export function studyArguments(argv: readonly string[], count: number): StudyArguments {
  const model = argv.find((each) => each.startsWith('--model='))?.slice(8) ?? 'both'
  return {
    count: Number(argv.find((each) => /^\d+$/.test(each)) ?? count),
    from: Number(argv.find((each) => each.startsWith('--from='))?.slice(7) ?? 1),
    models: model === 'both' ? ['first', 'second'] : [model as Model],
    bare: argv.includes('--without-vehicle'),
    words: argv.filter((each) => !each.startsWith('--') && !/^\d+$/.test(each)),
  }
}
